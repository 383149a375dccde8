/**
 * The sink's contract against the broker that the demo brings along. Its broker forgets on a restart, so the sink is
 * let in after the subscriber.
 */
import { connectAsync, type MqttClient } from 'mqtt';
import { type Broker, startBroker } from '../../../agent/sinks/broker.ts';
import { type BrokerUnderTest, describeSink, type Seen } from './suite.ts';

const USER = { user: { name: 'agent', password: 'right' } };

async function client(port: number): Promise<MqttClient> {
  return connectAsync(`mqtt://127.0.0.1:${port}`, { username: 'agent', password: 'right', reconnectPeriod: 0 });
}

describeSink(async (): Promise<BrokerUnderTest> => {
  let broker: Broker = await startBroker(USER);
  const seen: Seen[] = [];
  const listen = async (): Promise<MqttClient> => {
    const subscriber = await client(broker.port);
    subscriber.on('message', (topic, payload, { retain }) => {
      seen.push({ topic, payload: payload.toString(), retained: retain });
    });
    await subscriber.subscribeAsync('tonhour/#', { qos: 1 });
    return subscriber;
  };
  let subscriber = await listen();
  return {
    port: broker.port,
    seen,
    restart: async (gate) => {
      gate.refuse();
      subscriber.end(true);
      await broker.stop();
      broker = await startBroker(USER);
      subscriber = await listen();
      gate.aim(broker.port);
      gate.pass();
    },
    retained: async (wanted) => {
      const asker = await client(broker.port);
      const found = new Promise<string>((resolve) => {
        asker.on('message', (_topic, payload) => resolve(payload.toString()));
      });
      await asker.subscribeAsync(wanted, { qos: 1 });
      // A second retained message of our own comes after all that the broker kept on the first topic.
      const none = new Promise<null>((resolve) => {
        asker.publish('asked', '', { qos: 1 }, () => setImmediate(() => resolve(null)));
      });
      const answer = await Promise.race([found, none]);
      asker.end(true);
      return answer;
    },
    stop: async () => {
      subscriber.end(true);
      await broker.stop();
    },
  };
});
