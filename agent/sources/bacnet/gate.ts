/**
 * What may leave the socket, judged from the bytes alone, independently of the code that made them: questions, and the
 * acknowledgements that a reply in segments and a report of changes need. Nothing that changes a device is among them.
 */
const REGISTER_FOREIGN_DEVICE = 0x05;
const CARRIERS = { distribute: 0x09, unicast: 0x0a, broadcast: 0x0b };
const WHO_IS = 8;
/** SubscribeCOV, ReadProperty, ReadPropertyMultiple. */
const CONFIRMED_SERVICES = new Set([5, 12, 14]);
const CONFIRMED_COV_NOTIFICATION = 1;

/** Null where the datagram may leave, else why not. */
export function refusal(bytes: Uint8Array): string | null {
  const [type, code, lengthHigh, lengthLow, version, control] = bytes;
  if (bytes.length < 6 || type !== 0x81) return 'not BACnet/IP';
  if (256 * (lengthHigh as number) + (lengthLow as number) !== bytes.length) return 'its length is wrong';
  if (code === REGISTER_FOREIGN_DEVICE) return bytes.length === 6 ? null : 'its length is wrong';
  if (code !== CARRIERS.unicast && code !== CARRIERS.broadcast && code !== CARRIERS.distribute)
    return `BVLC function ${code}`;
  // destination and 'a reply is expected' are the only parts of the control octet that are ever set here
  if (version !== 1 || ((control as number) & ~0x24) !== 0) return 'a network message, a source address or a priority';
  let at = 6;
  if ((control as number) & 0x20) {
    if (bytes.length < 9) return 'its length is wrong';
    at += 2 + 1 + (bytes[8] as number) + 1;
  }
  return refusalOfApdu(bytes.subarray(at), code === CARRIERS.unicast);
}

function refusalOfApdu(apdu: Uint8Array, unicast: boolean): string | null {
  const [first, second, third, fourth] = apdu;
  if (first === undefined || second === undefined) return 'no APDU';
  if (first === 0x10) return second === WHO_IS ? null : `unconfirmed service ${second}`;
  if (!unicast) return 'a broadcast that is not Who-Is';
  switch (first) {
    case 0x02:
      if (apdu.length < 5 || third === 0) return 'a request without id or content';
      return CONFIRMED_SERVICES.has(fourth as number) ? null : `confirmed service ${fourth}`;
    case 0x20:
      return apdu.length === 3 && third === CONFIRMED_COV_NOTIFICATION ? null : `acknowledgement of service ${third}`;
    case 0x40:
    case 0x42:
      return apdu.length === 4 ? null : 'its length is wrong';
    case 0x70:
      return apdu.length === 3 ? null : 'its length is wrong';
    default:
      return `a PDU that begins with ${first}`;
  }
}
