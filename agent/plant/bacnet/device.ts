/** The device above its sockets: application messages in, application messages out. Time comes as a value, ms. */
import { ABORT, CONFIRMED, DEVICE, PDU, REJECT, UNCONFIRMED } from './codes.ts';
import { MAX_APDU, type ObjectTable, type ShownObject, writeIAm } from './objects.ts';
import { type Peer, unwrap, wrap } from './peer.ts';
import { Malformed, Reader } from './reader.ts';
import { SegmentSender, segmentsOf } from './segments.ts';
import { type Answer, answerRead, findObject } from './services.ts';
import { Subscriptions } from './subscriptions.ts';
import { Writer } from './writer.ts';

const SEGMENT_TIMEOUT_MS = 2000;
const HEAD = 3;
/** By the number in the request's head. */
const MAX_APDUS = [50, 128, 206, 480, 1024, 1476];
const MAX_SEGMENTS = [Number.POSITIVE_INFINITY, 2, 4, 8, 16, 32, 64, Number.POSITIVE_INFINITY];

interface Request {
  readonly peer: Peer;
  readonly invokeId: number;
  readonly service: number;
  readonly maxApdu: number;
  /** Most segments of a reply; 0: it takes none. */
  readonly maxSegments: number;
}

export interface DeviceLimits {
  readonly subscriptions: number;
  readonly replies: number;
}

export class BacnetDevice {
  private readonly table: ObjectTable;
  private readonly send: (datagram: Buffer, host: string, port: number) => void;
  private readonly segments: SegmentSender;
  readonly subscriptions: Subscriptions;

  constructor(table: ObjectTable, send: (datagram: Buffer, host: string, port: number) => void, limits: DeviceLimits) {
    this.table = table;
    this.send = send;
    const reply = (apdu: Buffer, peer: Peer, expecting = false): void => this.reply(apdu, peer, expecting);
    this.segments = new SegmentSender({ send: reply, timeoutMs: SEGMENT_TIMEOUT_MS, most: limits.replies });
    this.subscriptions = new Subscriptions({ table, send: reply, most: limits.subscriptions });
  }

  private reply(apdu: Buffer, peer: Peer, expectingReply = false): void {
    this.send(wrap(apdu, peer, expectingReply), peer.host, peer.port);
  }

  /** What cannot be read is dropped, or rejected where it asks for a reply. */
  receive(data: Buffer, from: { readonly address: string; readonly port: number }, now: number): void {
    let peer: Peer | null = null;
    let apdu: Buffer | null = null;
    try {
      const received = unwrap(data, from);
      if (received === null) return;
      ({ peer, apdu } = received);
      this.take(new Reader(apdu), peer, now);
    } catch (error) {
      if (!(error instanceof Malformed)) throw error;
      const invokeId = apdu?.[2];
      if (peer !== null && apdu !== null && (apdu[0] ?? 0xff) >> 4 === PDU.confirmed && invokeId !== undefined)
        this.reply(Buffer.from([PDU.reject << 4, invokeId, REJECT.invalidTag]), peer);
    }
  }

  /** Changes to subscribers, and what has to be sent again. */
  tick(now: number): void {
    this.subscriptions.report(now);
    this.segments.tick(now);
  }

  private take(reader: Reader, peer: Peer, now: number): void {
    const head = reader.byte();
    switch (head >> 4) {
      case PDU.confirmed:
        this.confirmed(head, reader, peer, now);
        return;
      case PDU.unconfirmed:
        this.unconfirmed(reader, peer);
        return;
      case PDU.segmentAck: {
        const [invokeId, sequence, window] = [reader.byte(), reader.byte(), reader.byte()];
        // From a server it would acknowledge a request of ours; there are none that long.
        if ((head & 1) === 0) this.segments.acknowledged(peer, { invokeId, sequence, window }, now);
        return;
      }
      case PDU.simple:
      case PDU.error:
      case PDU.reject:
        this.subscriptions.settled(peer, reader.byte());
        return;
      case PDU.abort: {
        const invokeId = reader.byte();
        if (head & 1) this.subscriptions.settled(peer, invokeId);
        else this.segments.aborted(peer, invokeId);
      }
    }
  }

  private confirmed(head: number, reader: Reader, peer: Peer, now: number): void {
    const sizes = reader.byte();
    const invokeId = reader.byte();
    if (head & 8) {
      this.reply(Buffer.from([(PDU.abort << 4) | 1, invokeId, ABORT.segmentationNotSupported]), peer);
      return;
    }
    const request: Request = {
      peer,
      invokeId,
      service: reader.byte(),
      maxApdu: Math.min(MAX_APDU, MAX_APDUS[sizes & 0xf] ?? MAX_APDU),
      maxSegments: head & 2 ? (MAX_SEGMENTS[(sizes >> 4) & 7] as number) : 0,
    };
    if (request.service === CONFIRMED.subscribeCov) {
      const error = this.subscriptions.subscribe(reader, peer, now);
      this.answer(request, error === null ? { done: true } : { error }, now);
      this.subscriptions.report(now);
    } else this.answer(request, answerRead(this.table, request.service, reader), now);
  }

  private answer(request: Request, answer: Answer, now: number): void {
    const { peer, invokeId, service } = request;
    if ('done' in answer) this.reply(Buffer.from([PDU.simple << 4, invokeId, service]), peer);
    else if ('reject' in answer) this.reply(Buffer.from([PDU.reject << 4, invokeId, answer.reject]), peer);
    else if ('error' in answer) {
      const [errorClass, code] = answer.error;
      const out = new Writer()
        .byte(PDU.error << 4, invokeId, service)
        .enumerated(errorClass)
        .enumerated(code);
      this.reply(out.finish(), peer);
    } else this.answerLong(request, answer.body, now);
  }

  private answerLong(request: Request, body: Buffer, now: number): void {
    const { peer, invokeId, service, maxApdu, maxSegments } = request;
    if (body.length + HEAD <= maxApdu) {
      this.reply(Buffer.concat([Buffer.from([PDU.complex << 4, invokeId, service]), body]), peer);
      return;
    }
    const abort = (reason: number): void => this.reply(Buffer.from([(PDU.abort << 4) | 1, invokeId, reason]), peer);
    if (maxSegments === 0) abort(ABORT.segmentationNotSupported);
    else if (segmentsOf(body.length, maxApdu) > maxSegments) abort(ABORT.apduTooLong);
    else if (!this.segments.begin({ peer, invokeId, service, body, maxApdu }, now)) abort(ABORT.outOfResources);
  }

  private unconfirmed(reader: Reader, peer: Peer): void {
    const service = reader.byte();
    if (service === UNCONFIRMED.whoIs) this.whoIs(reader, peer);
    if (service === UNCONFIRMED.whoHas) this.whoHas(reader, peer);
  }

  /** Whether limits of a request, where there are any, take this device in. */
  private meant(reader: Reader): boolean {
    if (!reader.has(0)) return true;
    const low = reader.unsigned(0);
    const high = reader.unsigned(1);
    const { instance } = this.table.device;
    return instance >= low && instance <= high;
  }

  private whoIs(reader: Reader, peer: Peer): void {
    if (!this.meant(reader)) return;
    const out = new Writer().byte(PDU.unconfirmed << 4, UNCONFIRMED.iAm);
    writeIAm(this.table.device, out);
    this.reply(out.finish(), peer);
  }

  private whoHas(reader: Reader, peer: Peer): void {
    if (!this.meant(reader)) return;
    const object: ShownObject | undefined = reader.has(2)
      ? findObject(this.table, reader.object(2))
      : this.table.named(reader.text(3));
    if (object === undefined) return;
    const out = new Writer()
      .byte(PDU.unconfirmed << 4, UNCONFIRMED.iHave)
      .object(DEVICE, this.table.device.instance)
      .object(object.type, object.instance)
      .text(object.name);
    this.reply(out.finish(), peer);
  }
}
