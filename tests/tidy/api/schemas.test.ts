/**
 * The published shapes: equal to the types of the code at compile time, met by real payloads, and the documents made of
 * them valid by the schemas that the OpenAPI Initiative and the AsyncAPI Initiative publish.
 */

import asyncapiSpecs from '@asyncapi/specs';
import { Validator } from '@seriousme/openapi-schema-validator';
import { Ajv } from 'ajv';
import { describe, expect, expectTypeOf, test } from 'vitest';
import type { z } from 'zod';
import type { AlarmReport } from '../../../agent/alarms/evaluate.ts';
import { alarmMessage } from '../../../agent/alarms/payload.ts';
import type { CalloutPacket } from '../../../agent/callout/packet.ts';
import { gapPayload as makeGap } from '../../../agent/history/outbox.ts';
import type { SeasonAnswer } from '../../../agent/season/plant.ts';
import type { Series } from '../../../agent/web/page-types.ts';
import type {
  AlarmFigure,
  DiagramFigure,
  HistoryFigure,
  Now,
  PlantFigure,
  SiteFigure,
} from '../../../agent/web/types.ts';
import { type Node, type SourceFile, treeOf, walk } from '../source.ts';
import { TREE } from '../tree.ts';
import type { alarmFigure } from './alarm-schemas.ts';
import { asyncapi, TOPICS } from './asyncapi.ts';
import type { calloutPacket } from './callout.ts';
import { openapi } from './openapi.ts';
import {
  alarmPayload,
  type diagramFigure,
  gapPayload,
  type historyFigure,
  now,
  type plantFigure,
  type seriesFigure,
  type siteFigure,
} from './schemas.ts';
import type { seasonAnswer } from './season.ts';

const REPORT: AlarmReport = {
  id: 'condenser-approach',
  chiller: 'CH-1',
  state: 'unacknowledged',
  priority: 2,
  title: 'Condenser approach high',
  since: '2026-07-01T12:00:00Z',
  active: true,
  raised: '2026-07-01T12:00:00Z',
  cleared: null,
  acknowledged: null,
  shelf: { by: 'duty engineer', time: '2026-07-01T12:05:00Z', reason: 'tower down', until: '2026-07-01T18:00:00Z' },
  suppression: null,
  out_of_service: null,
  latching: false,
  shelvable: true,
  metric: 'condenser.approach',
  value: 4.2,
  limit: 3,
  unit: 'K',
  condition: {
    side: 'above',
    deadband: 0.5,
    on_delay_s: 120,
    off_delay_s: 60,
    when: 'running',
    running_for_s: 900,
    beyond_uncertainty: false,
  },
  respond_within_s: 3600,
  cause: 'tubes',
  consequence: 'power',
  action: 'look',
  evidence: [{ name: 'condenser.approach', found: '4.2 K', expected: 'at most 3 K' }],
};

test('the schemas are the types of the code', () => {
  expectTypeOf<z.infer<typeof now>>().toEqualTypeOf<Now>();
  expectTypeOf<z.infer<typeof plantFigure>>().toEqualTypeOf<PlantFigure>();
  expectTypeOf<z.infer<typeof siteFigure>>().toEqualTypeOf<SiteFigure>();
  expectTypeOf<z.infer<typeof diagramFigure>>().toEqualTypeOf<DiagramFigure>();
  expectTypeOf<z.infer<typeof historyFigure>>().toEqualTypeOf<HistoryFigure>();
  expectTypeOf<z.infer<typeof seriesFigure>>().toEqualTypeOf<Series>();
  expectTypeOf<z.infer<typeof alarmFigure>>().toEqualTypeOf<AlarmFigure>();
  expectTypeOf<z.infer<typeof seasonAnswer>>().toEqualTypeOf<SeasonAnswer>();
  // Its names of faults and cautions are open to the reader, the code's are a list.
  expectTypeOf<CalloutPacket>().toExtend<z.infer<typeof calloutPacket>>();
  // The compiler compares the types; at run time, that the schemas are no empty ones.
  expect(Object.keys(now.unwrap().shape)).toContain('sequence');
});

describe('real payloads', () => {
  test('an alarm', () => {
    const { payload } = alarmMessage(REPORT, { root: 'tonhour/kestrel-quay', sequence: 12 });
    expect(alarmPayload.safeParse(JSON.parse(payload)).error).toBeUndefined();
  });
  test('a gap', () => {
    expect(gapPayload.safeParse(JSON.parse(makeGap(3, 9, 7))).error).toBeUndefined();
  });
  test('planted: a field too many, a field too few', () => {
    const { title: _, ...less } = { ...REPORT, sequence: 12 };
    expect(alarmPayload.safeParse(less).success).toBe(false);
    expect(alarmPayload.safeParse({ ...REPORT, sequence: 12, more: 1 }).success).toBe(false);
  });
});

/** Paths that the server answers with data, as OpenAPI writes them. */
function routesOf(file: SourceFile): string[] {
  const paths: string[] = [];
  walk(treeOf(file), (node) => {
    if (node.type !== 'CallExpression' || (node['callee'] as Node).type !== 'MemberExpression') return;
    const [path] = (node['arguments'] as Node[]).map((one) => one['value']);
    if (typeof path === 'string' && /^\/(?:api\/|healthz|metrics)/.test(path))
      paths.push(path.replace(':id', '{chiller}').replace(':event', '{event}'));
  });
  return paths.sort();
}

test('every route of the server is documented, and no other', () => {
  const files = TREE.filter(({ path }) => /^agent\/web\/(server|callout-routes)\.ts$/.test(path));
  expect(Object.keys(JSON.parse(openapi()).paths).sort()).toEqual(files.flatMap(routesOf).sort());
});

describe('documents', () => {
  test('OpenAPI 3.1', async () => {
    const { valid, errors } = await new Validator().validate(JSON.parse(openapi()));
    expect(errors ?? []).toEqual([]);
    expect(valid).toBe(true);
  });

  test('AsyncAPI 3.0', () => {
    const check = validator();
    check(JSON.parse(asyncapi()));
    expect(check.errors ?? []).toEqual([]);
  });

  test.each(Object.keys(TOPICS))('every reference of the topic %s is there', (name) => {
    const { channels, components } = JSON.parse(asyncapi());
    for (const { $ref } of Object.values(channels[name].messages) as { $ref: string }[])
      expect(components.messages).toHaveProperty($ref.split('/').at(-1) ?? '');
  });

  test('planted: both schemas refuse a spoilt document', async () => {
    const spoilt = JSON.parse(openapi());
    spoilt.paths['/api/site'].get.responses = 'none';
    expect((await new Validator().validate(spoilt)).valid).toBe(false);
    const spoiltToo = JSON.parse(asyncapi());
    spoiltToo.operations.publish_metrics.action = 'shout';
    expect(validator()(spoiltToo)).toBe(false);
  });
});

function validator() {
  const ajv = new Ajv({ strict: false, validateFormats: false });
  return ajv.compile(asyncapiSpecs.schemasWithoutId['3.0.0'] as object);
}
