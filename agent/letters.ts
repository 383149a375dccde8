/** Puts mails together: the packet of the room that judges, the words and the page of the room that draws. */

import { must } from './base/result.ts';
import { eventName } from './callout/notice.ts';
import type { CalloutPacket } from './callout/packet.ts';
import type { Callouts } from './callouts.ts';
import { diagram } from './cycle/diagram.ts';
import { refrigerant } from './refrigerant/refrigerants.ts';
import type { MailMatter, MailText } from './sinks/mail-options.ts';
import type { Site } from './site/site.ts';
import { readSheet } from './web/assets.ts';
import { calloutDocument, calloutStyle } from './web/callout-document.ts';
import { alarmMail, type MailSite } from './web/callout-mail.ts';
import { digestMail, digestTable } from './web/digest-mail.ts';

/** The packet as the page that stands alone. Null where the site has no such chiller any more. */
export type Draw = (packet: CalloutPacket) => string | null;

export function drawing(site: Site): Draw {
  const style = calloutStyle(readSheet);
  return (packet) => {
    const chiller = site.chillers.find(({ id }) => id === packet.chiller.id);
    if (chiller === undefined) return null;
    const picture = diagram(must(refrigerant(chiller.machine.refrigerant)), chiller.pressure_window);
    return calloutDocument(packet, { style, diagram: picture });
  };
}

/** What the mail sink is given to make mails with. */
export function composing(site: Site, callouts: Pick<Callouts, 'event'>): (matter: MailMatter) => MailText {
  const to: MailSite = {
    id: site.id,
    name: site.name,
    reader: { system: site.unit_system, time_zone: site.time_zone, barometer_kpa: site.barometer / 1000 },
    page: site.mail?.page ?? null,
  };
  const draw = drawing(site);
  return ({ kind, notices, gaps, attachments }) => {
    const [notice] = notices;
    if (kind === 'digest' || notice === undefined) {
      const table = { filename: 'alarms.csv', contentType: 'text/csv; charset=utf-8', content: digestTable(notices) };
      return {
        ...digestMail(notices, gaps, to, attachments),
        attachments: attachments && notices.length > 0 ? [table] : [],
      };
    }
    // Where the minute is no longer kept the mail goes without: late is better than never.
    const found = notice.change === 'raised' ? callouts.event(notice.chiller, eventName(notice)) : null;
    const packet = found?.ok === true ? found.value : null;
    const words = alarmMail(notice, to, { packet, attached: attachments });
    return { ...words, attachments: packet === null || !attachments ? [] : attached(packet, draw(packet)) };
  };
}

function attached(packet: CalloutPacket, page: string | null): MailText['attachments'] {
  const name = fileName(packet);
  const json = { filename: `${name}.json`, contentType: 'application/json', content: JSON.stringify(packet) };
  if (page === null) return [json];
  return [{ filename: `${name}.html`, contentType: 'text/html; charset=utf-8', content: page }, json];
}

/** Without characters that a file system minds: ids are letters, digits and hyphens. */
export function fileName({ chiller, event }: CalloutPacket): string {
  return `callout-${chiller.id}-${event}`;
}
