import manifest from '../package.json' with { type: 'json' };

/** Version of the program, as package.json has it. */
export const VERSION: string = manifest.version;
