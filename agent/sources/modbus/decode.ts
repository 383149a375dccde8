import { MODBUS_TYPE_REGISTERS, type ModbusAddress, type ModbusOrder } from '../../site/buses/modbus.ts';

/** Bytes of one value put into the order most significant first, in a view to read them from. */
function inOrder(options: { data: Uint8Array; offset: number; bytes: number; order: ModbusOrder }): DataView {
  const { data, offset, bytes, order } = options;
  const view = new DataView(new ArrayBuffer(bytes));
  // CDAB and DCBA send the low word first, BADC and DCBA the low byte of each word
  const wordsReversed = order === 'CDAB' || order === 'DCBA';
  const bytesSwapped = order === 'BADC' || order === 'DCBA';
  for (let i = 0; i < bytes; i += 1) {
    const word = i >> 1;
    const from = 2 * (wordsReversed ? bytes / 2 - 1 - word : word) + (bytesSwapped ? 1 - (i & 1) : i & 1);
    view.setUint8(i, data[offset + from] as number);
  }
  return view;
}

/** First address and number of addresses (registers, or bits of a bit table) that a point takes. */
export function span(address: ModbusAddress): { first: number; count: number } {
  const count = 'type' in address ? MODBUS_TYPE_REGISTERS[address.type] : 1;
  return { first: address.register, count };
}

/**
 * The value at `address` in the data of a reply that begins at address `first` (register or bit). A bit is 0 or 1.
 * Floats that are not finite are null: the caller says why.
 */
export function decode(address: ModbusAddress, data: Uint8Array, first: number): number | null {
  const index = address.register - first;
  if (!('type' in address)) return ((data[index >> 3] as number) >> (index & 7)) & 1;
  const { type, order } = address;
  const view = inOrder({ data, offset: 2 * index, bytes: 2 * MODBUS_TYPE_REGISTERS[type], order });
  switch (type) {
    case 'uint16':
      return address.bit === undefined ? view.getUint16(0) : (view.getUint16(0) >> address.bit) & 1;
    case 'int16':
      return view.getInt16(0);
    case 'uint32':
      return view.getUint32(0);
    case 'int32':
      return view.getInt32(0);
    case 'float32':
      return finite(view.getFloat32(0));
    case 'float64':
      return finite(view.getFloat64(0));
  }
}

function finite(value: number): number | null {
  return Number.isFinite(value) ? value : null;
}
