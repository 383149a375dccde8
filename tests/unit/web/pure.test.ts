import { readdirSync, readFileSync } from 'node:fs';
import { createContext, runInContext } from 'node:vm';
import { describe, expect, it } from 'vitest';
import { loadAssets } from '../../../agent/web/assets.ts';
import { documentOf } from '../../../agent/web/document.ts';
import { alarmsMain } from '../../../agent/web/page/alarms.js';
import { head, nowMain, pictures } from '../../../agent/web/page/page.js';
import type { View } from '../../../agent/web/page-types.ts';
import { viewOf } from './views.ts';

const FOLDER = new URL('../../../agent/web/page/', import.meta.url);
/** Modules that touch the browser; every other is a renderer. */
const BROWSER = ['live.js', 'look.js', 'morph.js'];

const ASSETS = loadAssets();

/**
 * All renderers, as they are served, as one script, so that they can run in a bare context: each module becomes a
 * function that returns its exports.
 */
function linked(): string {
  const done = new Map<string, string>();
  const visit = (name: string): void => {
    if (done.has(name)) return;
    done.set(name, '');
    let source = ASSETS.files.get(name)?.body.toString() ?? '';
    const exported = [...source.matchAll(/^export (?:function|const|class) (\w+)/gm)].map((m) => m[1]);
    source = source.replace(/^import \{([^}]*)\} from '\.\/([\w-]+\.js)';$/gm, (_all, names: string, from: string) => {
      visit(from);
      return `const {${names.replaceAll(' as ', ': ')}} = M['${from}'];`;
    });
    source = source.replace(/^export /gm, '');
    done.delete(name);
    done.set(name, `M['${name}'] = (() => {\n${source}\nreturn { ${exported.join(', ')} };\n})();`);
  };
  visit('alarms.js');
  return `const M = {};\n${[...done.values()].join('\n')}\nglobalThis.page = { ...M['page.js'], ...M['alarms.js'] };`;
}

/** A context with the language alone: no document, no window, no process; clock and chance throw. */
function bare(): {
  nowMain: typeof nowMain;
  pictures: typeof pictures;
  head: typeof head;
  alarmsMain: typeof alarmsMain;
} {
  const context = createContext({ Intl, parseTime: (t: string) => Date.parse(t) });
  runInContext(
    `Date = class { constructor() { throw new Error('a clock'); }
       static now() { throw new Error('a clock'); } static parse(t) { return parseTime(t); } };
     Math.random = () => { throw new Error('chance'); };`,
    context,
  );
  runInContext(linked(), context);
  return (context as { page: ReturnType<typeof bare> }).page;
}

const whole = (page: ReturnType<typeof bare>, view: View): string => {
  const drawings =
    page.pictures(view, view.chosen, { width: 1232, window: 1280 }, 'p') +
    page.pictures(view, view.chosen, { width: 358, window: 390 }, 'n');
  return page.head(view, 1280) + page.nowMain(view, drawings, { state: '4', trend: 227 }) + page.alarmsMain(view);
};

describe('renderers are pure', () => {
  const page = bare();
  it.each(['normal', 'off', 'alarm', 'lost', 'loading'] as const)(
    'same text in a bare context as in the agent: %s',
    (mode) => {
      for (const system of ['ip', 'si'] as const) {
        const view = viewOf({ mode, system });
        const here = whole({ nowMain, pictures, head, alarmsMain }, view);
        expect(whole(page, view)).toBe(here);
        expect(here.length).toBeGreaterThan(20_000);
        expect(here).not.toMatch(/NaN|undefined|Infinity|\[object/);
      }
    },
  );
  it('the bare context has no clock', () => {
    const context = createContext({});
    runInContext("Date = class { static now() { throw new Error('a clock'); } };", context);
    expect(() => runInContext('Date.now()', context)).toThrow('a clock');
  });
  it('no renderer names the browser, the clock, chance or a node module', () => {
    for (const name of readdirSync(FOLDER).filter((n) => n.endsWith('.js') && !BROWSER.includes(n))) {
      const code = readFileSync(new URL(name, FOLDER), 'utf8').replace(/\/\*\*?[\s\S]*?\*\/|\/\/.*/g, '');
      expect(code, name).not.toMatch(
        /\b(document|localStorage|fetch|setTimeout|setInterval|process)\b\s*[.(]|Date\.now|new Date|Math\.random|node:/,
      );
    }
  });
});

describe('hostile strings', () => {
  const EVIL = `" data-evil="1"><img src=x onerror=alert(1)></script><script>alert(2)</script>'&`;
  it('are text, never markup', () => {
    const base = viewOf({ mode: 'off' });
    const now = base.nows['CH-1']!;
    const quality = Object.fromEntries(
      Object.keys(now.quality).map((name) => [name, { quality: 'bad' as const, reason: EVIL }]),
    );
    const alarm = {
      ...base.alarms[0]!,
      title: EVIL,
      cause: EVIL,
      action: EVIL,
      consequence: EVIL,
      id: EVIL,
      priority: 1 as const,
    };
    const evil: View = {
      ...base,
      site: {
        ...base.site,
        name: EVIL,
        version: EVIL,
        chillers: base.site.chillers.map((c) => ({ ...c, refrigerant: EVIL, arrangement: EVIL })),
      },
      diagram: { ...base.diagram!, reference: EVIL, refrigerant: EVIL },
      alarms: [alarm, { ...alarm, evidence: [{ name: EVIL, found: EVIL, expected: EVIL }] }],
      nows: {
        ...base.nows,
        'CH-1': {
          ...now,
          state: EVIL,
          quality,
          link: { ...now.link, reason: EVIL },
          points: { ...now.points, [EVIL]: { ...now.points['condenser.level']!, reason: EVIL } },
        },
      },
    };
    const assets = ASSETS;
    for (const page of ['now', 'alarms'] as const)
      for (const view of [
        { ...evil, page },
        { ...evil, page, nows: {}, chosen: 'CH-1' },
      ]) {
        const html = documentOf(view, assets);
        expect(html).not.toContain('<img');
        expect(html.slice(0, html.indexOf('<script type="application/json"'))).not.toContain('data-evil="');
        expect(html).not.toContain('<script>alert');
        expect(html.split('</script>').length - 1).toBe(3);
        expect(html).not.toMatch(/ on(error|load|click)="/);
      }
    expect(documentOf({ ...evil, page: 'alarms' }, assets)).toContain('&quot;&gt;&lt;img src=x onerror=alert(1)&gt;');
  });
});
