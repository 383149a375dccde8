/** What was done to a machine: a log that only grows. */
import { ok, type Result } from '../base/result.ts';
import { writeBeside } from './beside.ts';
import type { Store } from './store.ts';

/** An entry; times in ms since the epoch. */
export interface MaintenanceEntry {
  readonly id: number;
  readonly chiller: string;
  /** When the work was done. */
  readonly time: number;
  /** When it was written down. */
  readonly entered: number;
  readonly kind: string;
  readonly text: string;
  /** Refrigerant put in, kg; null where that was not the work. */
  readonly mass_kg: number | null;
}

/** By the time of the work, both ends included; of all chillers where `chiller` is null. */
export interface MaintenanceQuery {
  readonly chiller: string | null;
  readonly from: number;
  readonly to: number;
}

/** Oldest first. */
export function maintenanceBetween(store: Store, { chiller, from, to }: MaintenanceQuery): MaintenanceEntry[] {
  return store
    .all(
      'SELECT * FROM maintenance WHERE time BETWEEN ?1 AND ?2 AND (?3 IS NULL OR chiller = ?3) ORDER BY time, id',
      from,
      to,
      chiller,
    )
    .map((row) => ({
      id: Number(row['id']),
      chiller: String(row['chiller']),
      time: Number(row['time']),
      entered: Number(row['entered']),
      kind: String(row['kind']),
      text: String(row['text']),
      mass_kg: row['mass_kg'] === null ? null : Number(row['mass_kg']),
    }));
}

/**
 * Writes an entry into the store of a folder, beside the running agent or without one. Faults: those of the store; an
 * agent of an older version that holds the store must be started anew first.
 */
export function appendMaintenance(folder: string, entry: Omit<MaintenanceEntry, 'id'>): Result<MaintenanceEntry> {
  return writeBeside(folder, { now: entry.entered, version: 2, again: 'write the entry' }, (store) => {
    const { chiller, time, entered, kind, text, mass_kg } = entry;
    const { lastInsertRowid: id } = store.run(
      'INSERT INTO maintenance (chiller, time, entered, kind, text, mass_kg) VALUES (?, ?, ?, ?, ?, ?)',
      chiller,
      time,
      entered,
      kind,
      text,
      mass_kg,
    );
    return ok({ ...entry, id });
  });
}
