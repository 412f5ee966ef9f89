const TABLE = Uint16Array.from({ length: 256 }, (_, byte) => {
  let crc = byte;
  for (let bit = 0; bit < 8; bit += 1) crc = (crc & 1) === 1 ? (crc >>> 1) ^ 0xa001 : crc >>> 1;
  return crc;
});

/**
 * The check sum of a Modbus RTU frame; its low byte goes first on the wire.
 *
 * @param bytes  the frame without its check sum
 * @see MODBUS over Serial Line, specification and implementation guide V1.02, section 6.2: polynomial 0xA001
 *   (reflected), begun at 0xFFFF
 */
export function crc16(bytes: Uint8Array): number {
  let crc = 0xffff;
  for (const byte of bytes) crc = (crc >>> 8) ^ TABLE[(crc ^ byte) & 0xff]!;
  return crc;
}
