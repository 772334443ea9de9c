// Which coordinator a command talks to: --coordinator or NIGHTMILL_URL, with the token from the environment.
import { readFileSync } from 'node:fs';
import { type Client, createClient } from './client.ts';
import { CommandError, exitCodes } from './exit-codes.ts';
import type { Terminal } from './terminal.ts';

const defaultUrl = 'http://127.0.0.1:7311';

export type ConnectOptions = { readonly coordinator?: string };

export function connect(options: ConnectOptions, terminal: Terminal): Client {
  const { environment, interrupted: signal } = terminal;
  const url = options.coordinator ?? (environment['NIGHTMILL_URL'] || defaultUrl);
  if (!isHttpUrl(url)) {
    throw new CommandError(
      exitCodes.wrongRequest,
      `${url} is no address of a coordinator; write it like ${defaultUrl}`,
    );
  }
  return createClient({ url, token: readToken(environment), signal });
}

function readToken(environment: Terminal['environment']): string | null {
  const file = environment['NIGHTMILL_TOKEN_FILE'];
  if (environment['NIGHTMILL_TOKEN']) return environment['NIGHTMILL_TOKEN'];
  if (!file) return null;
  try {
    return readFileSync(file, 'utf8').trim();
  } catch (error) {
    throw new CommandError(exitCodes.wrongRequest, `NIGHTMILL_TOKEN_FILE: ${file} cannot be read`, {
      cause: error,
    });
  }
}

function isHttpUrl(text: string): boolean {
  return URL.canParse(text) && /^https?:$/.test(new URL(text).protocol);
}
