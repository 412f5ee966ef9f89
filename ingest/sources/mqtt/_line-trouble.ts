/** What went wrong with a broker, in words that a technician can act on. */
import { BrokerGoodbye } from './_broker-line.ts';

const BY_CODE: ReadonlyMap<string, string> = new Map([
  ['ECONNREFUSED', 'nothing listens at this address: check that the broker runs, and its port'],
  ['ENOTFOUND', 'the name of the broker is not known: check the url and the name service'],
  ['EAI_AGAIN', 'the name service does not answer: check the network'],
  ['EHOSTUNREACH', 'the broker cannot be reached: check the network'],
  ['ENETUNREACH', 'there is no network'],
  ['ETIMEDOUT', 'the broker does not answer: check the network and firewalls between'],
  ['ECONNRESET', 'the connection was cut: by the broker, or because one side speaks TLS and the other does not'],
  ['EPROTO', 'the two sides agree on no TLS: check the port, and that the url says mqtts:// for TLS'],
  ['CERT_HAS_EXPIRED', "the broker's certificate has expired: renew it"],
  ['CERT_NOT_YET_VALID', "the broker's certificate is not valid yet: check the clocks"],
  ['ERR_TLS_CERT_ALTNAME_INVALID', "the broker's certificate is for another name: use the name it is made out for"],
]);
const UNTRUSTED =
  "the broker's certificate is signed by nobody we trust: give its CA certificate as ca_file. Nothing was sent";
const UNTRUSTED_CODES: ReadonlySet<string> = new Set([
  'DEPTH_ZERO_SELF_SIGNED_CERT',
  'SELF_SIGNED_CERT_IN_CHAIN',
  'UNABLE_TO_VERIFY_LEAF_SIGNATURE',
  'UNABLE_TO_GET_ISSUER_CERT',
  'UNABLE_TO_GET_ISSUER_CERT_LOCALLY',
]);

/** Codes of MQTT 3.1.1 (3.2.2.3) below 128, of MQTT 5 (2.4) above. */
const BY_REASON: ReadonlyMap<number, string> = new Map([
  [1, 'the broker does not speak this version of MQTT: set protocol: 4 for MQTT 3.1.1'],
  [2, 'the broker does not take this client_id: choose another'],
  [3, 'the broker is not available now'],
  [4, 'the broker does not know this user or password'],
  [5, 'the broker does not let this client in: check user, password and its access rules'],
  [132, 'the broker does not speak this version of MQTT: set protocol: 4 for MQTT 3.1.1'],
  [133, 'the broker does not take this client_id: choose another'],
  [134, 'the broker does not know this user or password'],
  [135, 'the broker does not let this client in: check user, password and its access rules'],
  [136, 'the broker is not available now'],
  [137, 'the broker is too busy'],
  [138, 'the broker has banned this client'],
  [139, 'the broker is shutting down'],
  [141, 'the broker heard nothing of us for too long'],
  [142, 'another client has connected with the same client_id: each needs its own'],
  [149, 'a packet was larger than the other side takes'],
  [151, 'a quota of the broker is used up'],
  [152, 'somebody has closed the connection at the broker'],
]);

/** Alerts of a broker that wants a certificate of us (RFC 8446, 6.2), as the library names them. */
const WANTS_CERTIFICATE =
  /ALERT_(?:CERTIFICATE_REQUIRED|HANDSHAKE_FAILURE|BAD_CERTIFICATE|CERTIFICATE_UNKNOWN|UNKNOWN_CA)/;

/** @param error of the library, of TLS or of the network; null where the other side just closed */
export function lineTrouble(error: unknown): string {
  if (error === null || error === undefined) return 'the broker closed the connection';
  if (error instanceof BrokerGoodbye) return BY_REASON.get(error.code) ?? error.message;
  const { code, message } = error as { readonly code?: unknown; readonly message?: unknown };
  if (typeof code === 'number') return BY_REASON.get(code) ?? `the broker refuses with code ${code}`;
  if (typeof code === 'string') {
    if (UNTRUSTED_CODES.has(code)) return UNTRUSTED;
    if (WANTS_CERTIFICATE.test(code))
      return 'the broker does not accept our certificate: give cert_file and key_file of one it trusts';
    const words = BY_CODE.get(code);
    if (words !== undefined) return words;
  }
  if (message === 'Keepalive timeout') return 'the broker no longer answers, though the connection stands';
  if (message === 'connack timeout') return 'the broker took the connection and said nothing: is this an MQTT port?';
  return typeof message === 'string' && message !== '' ? message : String(error);
}
