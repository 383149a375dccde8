/**
 * Looks into a schema: which keys it knows at a place, and what it says of them. For messages that name the nearest
 * known key.
 */
import { z } from 'zod';

type Schema = z.core.$ZodType;
type Definition = {
  readonly type: string;
  readonly innerType?: Schema;
  readonly in?: Schema;
  readonly options?: readonly Schema[];
  readonly shape?: Readonly<Record<string, Schema>>;
  readonly element?: Schema;
  readonly items?: readonly Schema[];
  readonly keyType?: Schema;
  readonly valueType?: Schema;
  readonly entries?: Readonly<Record<string, string>>;
};

/** Wrappers unfold; a union may be any of its alternatives. */
function unwrapped(schema: Schema): Definition[] {
  const definition = schema._zod.def as unknown as Definition;
  if (definition.options !== undefined) return definition.options.flatMap(unwrapped);
  const inner = definition.innerType ?? (definition.type === 'pipe' ? definition.in : undefined);
  return inner === undefined ? [definition] : unwrapped(inner);
}

function stepInto(schema: Schema, part: string | number): Schema[] {
  return unwrapped(schema).flatMap((definition) => {
    const next =
      definition.shape?.[part] ??
      definition.valueType ??
      definition.element ??
      (typeof part === 'number' ? definition.items?.[part] : undefined);
    return next === undefined ? [] : [next];
  });
}

function schemasAt(schema: Schema, path: readonly (string | number)[]): Schema[] {
  return path.reduce<Schema[]>((at, part) => at.flatMap((each) => stepInto(each, part)), [schema]);
}

/** Keys known at a place, in the order of the schema, each once. */
export function knownKeys(schema: Schema, path: readonly (string | number)[]): string[] {
  const keys = schemasAt(schema, path).flatMap((each) =>
    unwrapped(each).flatMap((definition) => {
      if (definition.shape !== undefined) return Object.keys(definition.shape);
      if (definition.type !== 'record' || definition.keyType === undefined) return [];
      return unwrapped(definition.keyType).flatMap((key) => Object.values(key.entries ?? {}));
    }),
  );
  return [...new Set(keys)];
}

/** What the schema says of a place, or null. */
export function descriptionAt(schema: Schema, path: readonly (string | number)[]): string | null {
  for (const each of schemasAt(schema, path)) {
    let at: Schema | undefined = each;
    while (at !== undefined) {
      const description = z.globalRegistry.get(at)?.description;
      if (description !== undefined) return description;
      const definition = at._zod.def as unknown as Definition;
      at = definition.innerType ?? (definition.type === 'pipe' ? definition.in : undefined);
    }
  }
  return null;
}
