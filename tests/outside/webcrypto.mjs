// Node 18 keeps web cryptography in a module; the packages look for it among the globals.
import {webcrypto} from 'node:crypto';

globalThis.crypto ??= webcrypto;
globalThis.fetch = url => {
  throw new Error(`A verifier must not open connections: ${url}`);
};
