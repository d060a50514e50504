/**
 * Trusted script URLs of the page's own scripts (Trusted Types, W3C): the only policy of the
 * page's Content-Security-Policy, which knows no other. No text becomes HTML or script anywhere.
 */

/** @typedef {{createScriptURL: (address: string) => URL}} Policy in truth an object that only the browser makes */
/** @typedef {{createPolicy: (name: string, rules: {createScriptURL: (address: string) => string}) => Policy}} Factory */

const factory = /** @type {{trustedTypes?: Factory}} */ (/** @type {unknown} */ (globalThis)).trustedTypes;
const policy = factory?.createPolicy("gridproof", {
  createScriptURL(address) {
    if (new URL(address).origin !== globalThis.origin) throw new TypeError(`${address} is none of the page's scripts.`);
    return address;
  },
});

/**
 * @param {URL} address of a worker's script, of the page's own origin
 * @returns {URL}
 */
export function scriptAddress(address) {
  return policy?.createScriptURL(address.href) ?? address;
}
