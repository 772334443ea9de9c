// Tells listeners of every event, in the order of the events, even when a listener causes the next one.
import type { JobRecord } from '../state/job-record.ts';
import type { StoredEvent } from './job-book.ts';

export type EventListener = (stored: StoredEvent, record: JobRecord) => void;

export type EventFeed = {
  /** Answers the function that ends the listening. */
  listen(listener: EventListener): () => void;
  publish(stored: StoredEvent, record: JobRecord): void;
};

/** `reportFault` is told what a listener throws; the other listeners are told all the same. */
export function createEventFeed(reportFault: (error: unknown) => void): EventFeed {
  const listeners = new Set<EventListener>();
  const waiting: Parameters<EventListener>[] = [];
  let telling = false;
  return {
    listen(listener) {
      // Wrapped, so that a function that listens twice is told twice and stops once.
      const own: EventListener = (stored, record) => listener(stored, record);
      listeners.add(own);
      return () => listeners.delete(own);
    },
    publish(stored, record) {
      waiting.push([stored, record]);
      if (telling) return;
      telling = true;
      try {
        for (let next = waiting.shift(); next !== undefined; next = waiting.shift()) tellAll(next);
      } finally {
        telling = false;
      }
    },
  };

  function tellAll(news: Parameters<EventListener>): void {
    for (const listener of listeners) {
      try {
        listener(...news);
      } catch (error) {
        reportFault(error);
      }
    }
  }
}
