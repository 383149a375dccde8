/**
 * Every error code in one table: what it means and what to do. Messages add the file, line or point. `deploy/runbook.md` is generated
 * from this table and a test compares both ways. Codes are stable: match on the code, never on the message.
 */
export interface ErrorEntry {
  readonly meaning: string;
  readonly action: string;
}

export const ERRORS = {
  // command line
  usage: { meaning: 'The command line is not understood.', action: 'Run `tonhour help` and correct the call.' },
  bad_record: {
    meaning: 'A line of input is not the record that the verb reads.',
    action: 'Correct the line; the other lines were answered.',
  },
  not_implemented: {
    meaning: 'The verb or option is designed but not there yet.',
    action: 'See the README for what this version does.',
  },
  internal: {
    meaning: 'A claim inside the program was broken.',
    action: 'Report it with the log; the service manager restarts the agent.',
  },

  // refrigerant
  refrigerant_unknown: {
    meaning: 'No equation of state of that name is carried.',
    action: 'Use one of the names listed in the message.',
  },
  refrigerant_out_of_range: {
    meaning: 'The state lies outside the range of the equation of state.',
    action: 'Check the inputs and their units.',
  },
  refrigerant_no_solution: {
    meaning: 'No state with these properties was found.',
    action: 'Check the pair of inputs; if they are physical, report them.',
  },

  // alarms
  alarm_rule: {
    meaning: 'An alarm rule of the site file cannot be used.',
    action: 'Correct the key that the message names.',
  },
} as const satisfies Record<string, ErrorEntry>;

export type ErrorCode = keyof typeof ERRORS;
