// One BullMQ queue for each agent: placing is our decision, the queue carries it. Entries can always be made again from
// the ledger, so nothing here is kept longer than it is on its way. Nothing of BullMQ is seen outside this file.
import { Queue } from 'bullmq';
import type { AttemptRef } from '#shared/link.ts';
import type { Task } from '#shared/task.ts';
import { connectQueues, type QueueConnection } from './queue-connection.ts';

export type QueueEntry = AttemptRef & {
  /** An agent has taken it. */
  readonly active: boolean;
};

/** Everything that talks to Redis throws MillError `internal` when that isn't there, and can be tried again. */
export type Queues = {
  /** The name of an agent's queue, for the agent. */
  queueName(agentId: string): string;
  /** Adding an entry that is on its way already does nothing. */
  enqueue(agentId: string, task: Task): Promise<void>;
  /** Takes back an entry. False when the agent has taken it already; true when it is gone, or never was there. */
  remove(agentId: string, jobId: string, attempt: number): Promise<boolean>;
  /** Entries that wait or that the agent has taken, next ones first. */
  pending(agentId: string): Promise<readonly QueueEntry[]>;
  /** Drops an agent's queue with all that is in it, taken or not. */
  forget(agentId: string): Promise<void>;
  ping(): Promise<void>;
  close(): Promise<void>;
};

/** Throws MillError `bad-config` when Redis doesn't answer. `prefix` keeps our keys apart from others in it. */
export async function openQueues({ url, prefix }: { url: string; prefix: string }): Promise<Queues> {
  const connection = await connectQueues(url);
  return new BullQueues(connection, prefix);
}

class BullQueues implements Queues {
  readonly #connection: QueueConnection;
  readonly #prefix: string;
  readonly #queues = new Map<string, Queue<Task>>();
  /** The last piece of work on each queue: one at a time, so that dropping a queue can't fall into filling it. */
  readonly #turns = new Map<string, Promise<unknown>>();

  constructor(connection: QueueConnection, prefix: string) {
    this.#connection = connection;
    this.#prefix = prefix;
  }

  queueName(agentId: string): string {
    return `agent-${agentId}`;
  }

  enqueue(agentId: string, task: Task): Promise<void> {
    return this.#inTurn(agentId, async (queue) => {
      // Left behind by a drop of the queue that broke off; a paused queue would never be served.
      if (await queue.isPaused()) await queue.resume();
      await queue.add(task.kind, task, {
        jobId: entryId(task),
        attempts: 1,
        removeOnComplete: true,
        removeOnFail: true,
      });
    });
  }

  remove(agentId: string, jobId: string, attempt: number): Promise<boolean> {
    return this.#inTurn(agentId, async (queue) => (await queue.remove(entryId({ jobId, attempt }))) === 1);
  }

  pending(agentId: string): Promise<readonly QueueEntry[]> {
    return this.#inTurn(agentId, async (queue) => {
      const ids = (type: 'active' | 'wait') => queue.getRanges([type], 0, -1, true);
      const [active, waiting] = [await ids('active'), await ids('wait')];
      return [...active.map((id) => toEntry(id, true)), ...waiting.map((id) => toEntry(id, false))];
    });
  }

  forget(agentId: string): Promise<void> {
    return this.#inTurn(agentId, async (queue) => {
      await queue.obliterate({ force: true });
      this.#queues.delete(agentId);
      await queue.close();
    });
  }

  ping(): Promise<void> {
    return this.#connection.use(async () => void (await this.#connection.redis.ping()));
  }

  async close(): Promise<void> {
    await Promise.allSettled(this.#turns.values());
    this.#connection.close();
    await Promise.allSettled(this.#queues.values().map((queue) => queue.close()));
  }

  #inTurn<Result>(agentId: string, work: (queue: Queue<Task>) => Promise<Result>): Promise<Result> {
    const before = this.#turns.get(agentId);
    const turn = Promise.allSettled([before]).then(() =>
      this.#connection.use(() => this.#onQueue(agentId, work)),
    );
    this.#turns.set(agentId, turn);
    return turn;
  }

  async #onQueue<Result>(agentId: string, work: (queue: Queue<Task>) => Promise<Result>): Promise<Result> {
    const queue = this.#queues.get(agentId) ?? this.#openQueue(agentId);
    try {
      return await work(queue);
    } catch (error) {
      // A queue that was being set up when Redis went away stays broken; the next call makes another.
      this.#queues.delete(agentId);
      void queue.close().catch(() => undefined);
      throw error;
    }
  }

  #openQueue(agentId: string): Queue<Task> {
    const queue = new Queue<Task>(this.queueName(agentId), {
      connection: this.#connection.redis,
      prefix: this.#prefix,
    });
    // The same trouble comes back from the call that met it.
    queue.on('error', () => {});
    this.#queues.set(agentId, queue);
    return queue;
  }
}

/** BullMQ takes neither `:` nor plain numbers. */
function entryId({ jobId, attempt }: AttemptRef): string {
  return `${jobId}_${attempt}`;
}

function toEntry(id: string, active: boolean): QueueEntry {
  const [jobId = '', attempt] = id.split('_');
  return { jobId, attempt: Number(attempt), active };
}
