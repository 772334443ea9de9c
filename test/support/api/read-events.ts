// Reads a stream of server-sent events piece by piece, as a client would.
import { createParser, type EventSourceMessage } from 'eventsource-parser';

export type EventReader = {
  /** The next `count` events; comments are passed over. */
  take(count: number): Promise<EventSourceMessage[]>;
  /** Resolves with the next comment. */
  comment(): Promise<string>;
  close(): Promise<void>;
};

export function readEvents(response: Response): EventReader {
  const reader = (response.body as ReadableStream<Uint8Array>).getReader();
  const decoder = new TextDecoder();
  const events: EventSourceMessage[] = [];
  const comments: string[] = [];
  const parser = createParser({
    onEvent: (event) => void events.push(event),
    onComment: (comment) => void comments.push(comment),
  });
  const more = async () => {
    const { done, value } = await reader.read();
    if (done) throw new Error('the stream ended');
    parser.feed(decoder.decode(value, { stream: true }));
  };
  return {
    async take(count) {
      while (events.length < count) await more();
      return events.splice(0, count);
    },
    async comment() {
      while (comments.length === 0) await more();
      return comments.shift() ?? '';
    },
    close: () => reader.cancel(),
  };
}
