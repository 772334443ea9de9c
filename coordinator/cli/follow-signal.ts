// A signal of one's own that also fires with another. Written out, since AbortSignal.any loses an abort that nobody
// listened for once its source is collected (nodejs/node issue 65995; seen as a command that never ended).

export type FollowingSignal = Disposable & { readonly signal: AbortSignal };

/** Fires when `leader` does, and at the latest when it is disposed of. */
export function followSignal(leader: AbortSignal): FollowingSignal {
  const controller = new AbortController();
  const follow = () => controller.abort(leader.reason);
  if (leader.aborted) follow();
  else leader.addEventListener('abort', follow, { once: true });
  return {
    signal: controller.signal,
    [Symbol.dispose]() {
      leader.removeEventListener('abort', follow);
      controller.abort();
    },
  };
}
