// One request to the coordinator, and its response as it begins. Not by fetch: that takes a tenth of a second to load and
// ends an upload after five minutes however well it goes; here only a standstill ends one.
import type http from 'node:http';

export type Coordinator = {
  readonly baseUrl: URL;
  readonly token: string | null;
};

export type RequestOptions = {
  readonly method: 'GET' | 'POST' | 'PUT';
  /** Below the coordinator's URL: `v1/agents`. */
  readonly path: string;
  readonly headers?: Readonly<Record<string, string>>;
  readonly signal: AbortSignal;
};

const standstillMs = 60_000;

// An import of node:http also loads what it offers beside HTTP, fetch and WebSocket among it.
const modules = {
  'http:': process.getBuiltinModule('node:http'),
  'https:': process.getBuiltinModule('node:https'),
};

/** Begins a request. The caller writes the body, if any, and ends it. */
export function beginRequest(coordinator: Coordinator, options: RequestOptions): http.ClientRequest {
  const url = urlOf(coordinator, options.path);
  const { request } = modules[url.protocol === 'https:' ? 'https:' : 'http:'];
  const begun = request(url, {
    method: options.method,
    headers: { ...options.headers, ...authorisation(coordinator) },
    signal: options.signal,
  });
  return begun.setTimeout(standstillMs, () => {
    begun.destroy(new Error(`nothing moved for ${standstillMs / 1000} s`));
  });
}

/** Rejects when the connection breaks before there is an answer. */
export function responseOf(request: http.ClientRequest): Promise<http.IncomingMessage> {
  return new Promise((resolve, reject) => {
    request.once('response', resolve);
    // Errors after the answer belong to whoever reads it.
    request.on('error', reject);
  });
}

/** `path` below the coordinator's URL, which may itself have a path (a proxy's). */
export function urlOf({ baseUrl }: Coordinator, path: string): URL {
  return new URL(path, baseUrl.href.endsWith('/') ? baseUrl : `${baseUrl.href}/`);
}

function authorisation({ token }: Coordinator): Record<string, string> {
  return token === null ? {} : { authorization: `Bearer ${token}` };
}
