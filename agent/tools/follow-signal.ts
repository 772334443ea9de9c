// A signal of one's own that also fires with others. Written out, since AbortSignal.any loses an abort that nobody
// listened for once its source is collected (nodejs/node issue 65995).

export type FollowingSignal = Disposable & { readonly signal: AbortSignal; abort(reason?: unknown): void };

/** Fires when the first of `leaders` does, with its reason, and at the latest when it is disposed of. */
export function followSignals(...leaders: readonly AbortSignal[]): FollowingSignal {
  const controller = new AbortController();
  const listeners = leaders.map((leader) => ({ leader, follow: () => controller.abort(leader.reason) }));
  for (const { leader, follow } of listeners) {
    if (leader.aborted) follow();
    else leader.addEventListener('abort', follow, { once: true });
  }
  return {
    signal: controller.signal,
    abort: (reason) => controller.abort(reason),
    [Symbol.dispose]() {
      for (const { leader, follow } of listeners) leader.removeEventListener('abort', follow);
      controller.abort();
    },
  };
}
