/**
 * A service manager's end of the notification socket. Python, because Node opens no datagram sockets of the Unix
 * family.
 */
import { spawn } from 'node:child_process';
import { createInterface } from 'node:readline';

// Prints each datagram as one line of JSON; closes the descriptors that come with a barrier, which is how the sender
// learns that it was read.
const MANAGER = `
import array, json, os, socket, sys
s = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
s.bind(sys.argv[1])
print(json.dumps("bound"), flush=True)
while True:
    data, ancillary, _, _ = s.recvmsg(4096, 1024)
    for level, kind, fds in ancillary:
        if kind == socket.SCM_RIGHTS:
            for fd in array.array("i", fds): os.close(fd)
    print(json.dumps(data.decode()), flush=True)
`;

export interface Manager {
  /** The words of the next message that is not a barrier. */
  heard(): Promise<string[]>;
  stop(): void;
}

/** Settles once it listens. */
export async function startManager(socket: string): Promise<Manager> {
  const manager = spawn('/usr/bin/python3', ['-c', MANAGER, socket], { stdio: ['ignore', 'pipe', 'inherit'] });
  const lines = createInterface({ input: manager.stdout })[Symbol.asyncIterator]();
  const next = async (): Promise<string> => JSON.parse(String((await lines.next()).value));
  if ((await next()) !== 'bound') throw new Error('the manager listens');
  return {
    heard: async () => {
      for (let text = await next(); ; text = await next())
        if (!text.startsWith('BARRIER=')) return text.trim().split('\n');
    },
    stop: () => manager.kill(),
  };
}
