/** Version 7 UUIDs: time first, so that ids sort by the instant of the tap. */

/** Make an id from an instant and ten random bytes. */
export function uuid7(atMs: number, random: Uint8Array): string {
  const bytes = new Uint8Array(16);
  for (let i = 0; i < 6; i += 1) bytes[i] = Math.floor(atMs / 2 ** (8 * (5 - i))) & 0xff;
  bytes.set(random.subarray(0, 10), 6);
  bytes[6] = 0x70 | ((bytes[6] ?? 0) & 0x0f);
  bytes[8] = 0x80 | ((bytes[8] ?? 0) & 0x3f);
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}
