/**
 * The part of a pino logger that sources use. They write on a change of state alone, so a dead controller cannot fill
 * the log.
 */
export interface SourceLog {
  info(fields: Readonly<Record<string, unknown>>, message: string): void;
  warn(fields: Readonly<Record<string, unknown>>, message: string): void;
}
