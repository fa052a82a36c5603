// Ids of entries, made on the tablet.

/** A UUID of version 7: 48 bits of milliseconds, then random bits (RFC 9562, section 5.7). */
export function newId(now = Date.now()) {
  // randomUUID exists on https only.
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  for (let at = 5, rest = now; at >= 0; at -= 1, rest = Math.floor(rest / 256)) bytes[at] = rest % 256;
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

// Without characters that are mistaken for each other.
const TAP_CODE_CHARACTERS = "23456789ABCDEFGHJKMNPQRSTVWXYZ";

/** A code to write on a new tap while the server cannot be asked for the next free one. */
export function newTapCode() {
  const random = crypto.getRandomValues(new Uint8Array(5));
  return `N${[...random].map((byte) => TAP_CODE_CHARACTERS[byte % TAP_CODE_CHARACTERS.length]).join("")}`;
}
