// The agent's standing with its coordinator: registers, keeps the heartbeat, follows the queue that it is told, and
// registers again whenever either side may have forgotten the other.
import { setTimeout as sleep } from 'node:timers/promises';
import { z } from 'zod';
import { MillError } from '#shared/errors.ts';
import {
  type HeartbeatReply,
  heartbeatReplySchema,
  type Reach,
  type Registration,
  type RegistrationReply,
  registrationReplySchema,
} from '#shared/link.ts';
import { followSignals } from '../tools/follow-signal.ts';
import type { AgentLog } from '../tools/logger.ts';
import { type Answer, untilAnswered } from './answer.ts';
import type { Attempts } from './attempts.ts';
import { post } from './coordinator-client.ts';
import type { Coordinator } from './http-request.ts';
import type { QueueAddress, QueueConsumer } from './queue-consumer.ts';
import type { ReachWatch } from './reach.ts';

export type SessionParts = {
  readonly coordinator: Coordinator;
  readonly agentId: string;
  /** Asked at each registration: lanes become known while the agent runs. */
  readonly registration: () => Omit<Registration, 'volumes'>;
  readonly attempts: Attempts;
  readonly concurrency: number;
  readonly reach: ReachWatch;
  readonly log: AgentLog;
};

export type Session = {
  /** Runs until `signal` fires. Rejects with MillError when the coordinator refuses this agent. */
  run(signal: AbortSignal): Promise<void>;
  /** What is registered has changed: register again soon. */
  announce(): void;
  /** Takes no more tasks, ends the running ones, takes its leave. For after `run`'s signal has fired. */
  close(): Promise<void>;
};

/** A queue that is silent for longer is taken for lost, and asked for again. */
const silentQueueSeconds = 20;
const leaveTimeoutMs = 2_000;
/** Before registering again: a coordinator that keeps refusing heartbeats must not be asked without a pause. */
const soonMs = 500;
/** The queue's last words at the end: the process doesn't wait longer for a Redis that is gone. */
const queueEndMs = 1_500;

type Standing = {
  reply: RegistrationReply | null;
  consumer: QueueConsumer | null;
  address: QueueAddress | null;
};

export function openSession(parts: SessionParts): Session {
  const standing: Standing = { reply: null, consumer: null, address: null };
  let registrationIsDue = true;
  let wake = new AbortController();
  return {
    async run(signal) {
      while (!signal.aborted) {
        wake = new AbortController();
        if (registrationIsDue) {
          registrationIsDue = false;
          await register(parts, standing, signal).catch(unlessStopping(signal));
          if (signal.aborted) return;
        }
        const reply = await beat(parts, standing, signal);
        if (reply.kind === 'ok') parts.attempts.stop(reply.value.stop);
        registrationIsDue ||= needsRegistration(parts, standing, reply);
        const beatMs = (standing.reply?.heartbeatSeconds ?? 1) * 1000;
        const pauseMs = registrationIsDue ? Math.min(beatMs, soonMs) : beatMs;
        using pause = followSignals(signal, wake.signal);
        await sleep(pauseMs, undefined, { signal: pause.signal }).catch(() => {});
      }
    },
    announce() {
      registrationIsDue = true;
      wake.abort();
    },
    async close() {
      await standing.consumer?.pause();
      await Promise.all([parts.attempts.close(), leave(parts, standing)]);
      await Promise.race([standing.consumer?.close(), sleep(queueEndMs, undefined, { ref: false })]);
    },
  };
}

async function register(parts: SessionParts, standing: Standing, signal: AbortSignal): Promise<void> {
  const { coordinator, log, reach } = parts;
  const body: Registration = { ...parts.registration(), volumes: (await reach.look()).volumes };
  const answer = await untilAnswered(
    () => post(coordinator, { path: 'v1/agents', body, reply: registrationReplySchema, signal }),
    {
      signal,
      onSilence: (reason) =>
        log.warn({ url: coordinator.baseUrl.href, reason }, 'the coordinator does not answer, trying on'),
    },
  );
  if (answer.kind === 'refused') {
    const code = answer.status === 401 ? 'unauthorised' : 'bad-config';
    throw new MillError(code, `${coordinator.baseUrl.href} refuses this agent: ${answer.reason}`);
  }
  standing.reply = answer.value;
  reach.setGranary(answer.value.granary);
  const lanes = body.lanes.filter(({ proven }) => proven).map(({ id }) => id);
  log.info({ agentId: parts.agentId, lanes, queue: answer.value.queueName }, 'registered');
  await followQueue(parts, standing);
}

/** Opens the queue that the coordinator named, unless that one is open already and answers. */
async function followQueue({ attempts, concurrency, log }: SessionParts, standing: Standing): Promise<void> {
  if (standing.reply === null) return;
  const { redisUrl, queuePrefix, queueName } = standing.reply;
  const open = standing.address;
  const same =
    open?.redisUrl === redisUrl && open.queuePrefix === queuePrefix && open.queueName === queueName;
  if (same && (standing.consumer?.ageSeconds() ?? 0) < silentQueueSeconds) return;
  // The slowest thing to load: the coordinator has been told by now that this machine is here.
  const { consumeQueue } = await import('./queue-consumer.ts');
  // What runs goes on: its outcome goes over HTTP, whatever becomes of its queue entry.
  void standing.consumer?.close();
  standing.address = { redisUrl, queuePrefix, queueName };
  const first = standing.consumer === null;
  standing.consumer = consumeQueue({
    first,
    address: standing.address,
    concurrency,
    run: (entry) => attempts.run(entry),
    log,
  });
}

async function beat(
  parts: SessionParts,
  standing: Standing,
  signal: AbortSignal,
): Promise<Answer<HeartbeatReply>> {
  const seen: Reach = await parts.reach.look();
  const queueAgeSeconds = standing.consumer?.ageSeconds() ?? 0;
  const answer = await post(parts.coordinator, {
    path: `v1/agents/${parts.agentId}/heartbeat`,
    body: { reach: seen, running: parts.attempts.running(), queueAgeSeconds },
    reply: heartbeatReplySchema,
    signal,
  });
  if (answer.kind !== 'ok' && !signal.aborted)
    parts.log.warn({ reason: answer.reason }, 'the heartbeat was not taken');
  return answer;
}

/** After a silence the coordinator may be a new process, with another queue. */
function needsRegistration({ log }: SessionParts, standing: Standing, reply: Answer<unknown>): boolean {
  if (reply.kind !== 'ok') return true;
  const silent = (standing.consumer?.ageSeconds() ?? 0) >= silentQueueSeconds;
  if (silent)
    log.warn({ queue: standing.address?.queueName ?? '' }, 'the queue is silent, asking for it again');
  return silent;
}

/** Being told to stop breaks off a registration, which is then no failure. */
function unlessStopping(signal: AbortSignal): (error: unknown) => void {
  return (error) => {
    if (!signal.aborted) throw error;
  };
}

async function leave({ coordinator, agentId }: SessionParts, { reply }: Standing): Promise<void> {
  if (reply === null) return;
  const signal = AbortSignal.timeout(leaveTimeoutMs);
  await post(coordinator, { path: `v1/agents/${agentId}/leave`, body: {}, reply: z.unknown(), signal });
}
