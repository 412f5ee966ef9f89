import { describe, expect, test } from 'vitest';
import { BrokerGoodbye } from '../../../../ingest/sources/mqtt/_broker-line.ts';
import { lineTrouble } from '../../../../ingest/sources/mqtt/_line-trouble.ts';

const coded = (code: string | number, message = 'x'): Error => Object.assign(new Error(message), { code });

describe('lineTrouble', () => {
  test.each([
    [null, 'the broker closed the connection'],
    [coded('ECONNREFUSED'), 'nothing listens'],
    [coded('SELF_SIGNED_CERT_IN_CHAIN'), 'ca_file'],
    [coded('CERT_HAS_EXPIRED'), 'expired'],
    [coded('ERR_SSL_TLSV13_ALERT_CERTIFICATE_REQUIRED'), 'does not accept our certificate'],
    [coded(5), 'does not let this client in'],
    [coded(134), 'user or password'],
    [coded(200), 'refuses with code 200'],
    [new BrokerGoodbye(142), 'same client_id'],
    [new BrokerGoodbye(250), 'reason 250'],
    [new Error('Keepalive timeout'), 'no longer answers'],
    [new Error('connack timeout'), 'is this an MQTT port?'],
    ['odd', 'odd'],
  ])('says %s in words', (error, words) => {
    expect(lineTrouble(error)).toContain(words);
  });
});
