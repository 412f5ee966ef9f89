/** Certificates made for a test: a CA, a server for 127.0.0.1, a client, and a CA that nobody trusts. */
import { execFileSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';

export interface Certificates {
  readonly ca: string;
  readonly serverCert: string;
  readonly serverKey: string;
  readonly clientCert: string;
  readonly clientKey: string;
  readonly strangerCa: string;
}

export function makeCertificates(folder: string): Certificates {
  const at = (name: string): string => join(folder, name);
  const openssl = (...args: string[]): void => {
    execFileSync('openssl', args, { stdio: 'ignore' });
  };
  const curve = ['-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:P-256', '-nodes'];
  const authority = (name: string): void =>
    openssl(
      'req',
      '-x509',
      ...curve,
      '-keyout',
      at(`${name}.key`),
      '-out',
      at(`${name}.pem`),
      '-days',
      '2',
      '-subj',
      `/CN=${name}`,
    );
  const signed = (name: string, subject: string): void => {
    writeFileSync(at(`${name}.ext`), 'subjectAltName=IP:127.0.0.1,DNS:localhost\n');
    openssl('req', ...curve, '-keyout', at(`${name}.key`), '-out', at(`${name}.csr`), '-subj', `/CN=${subject}`);
    openssl(
      'x509',
      '-req',
      '-in',
      at(`${name}.csr`),
      '-CA',
      at('ca.pem'),
      '-CAkey',
      at('ca.key'),
      '-CAcreateserial',
      '-out',
      at(`${name}.pem`),
      '-days',
      '2',
      '-extfile',
      at(`${name}.ext`),
    );
  };
  authority('ca');
  authority('stranger');
  signed('server', 'broker');
  signed('client', 'kilter');
  return {
    ca: at('ca.pem'),
    serverCert: at('server.pem'),
    serverKey: at('server.key'),
    clientCert: at('client.pem'),
    clientKey: at('client.key'),
    strangerCa: at('stranger.pem'),
  };
}
