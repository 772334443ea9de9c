// Places for tasks: never more at a time than there are, in the order of asking.
import { describe, expect, test } from 'vitest';
import { createPlaces } from '../../../../agent/link/places.ts';

const never = new AbortController().signal;

describe('places', () => {
  test('are given out in order, as they become free', async () => {
    const places = createPlaces(2);
    const order: string[] = [];
    const [first, second] = await Promise.all([places.take(never), places.take(never)]);
    const third = places.take(never).then((place) => {
      order.push('third');
      return place;
    });
    const fourth = places.take(never).then((place) => {
      order.push('fourth');
      return place;
    });
    await Promise.resolve();
    expect(order).toEqual([]);
    second[Symbol.dispose]();
    (await third)[Symbol.dispose]();
    await fourth;
    expect(order).toEqual(['third', 'fourth']);
    first[Symbol.dispose]();
  });

  test('are not waited for any longer once the signal has fired', async () => {
    const places = createPlaces(1);
    const held = await places.take(never);
    const stop = new AbortController();
    const waiting = places.take(stop.signal);
    stop.abort(new Error('no longer wanted'));
    await expect(waiting).rejects.toThrow('no longer wanted');
    // The place goes to nobody who has left.
    held[Symbol.dispose]();
    await expect(places.take(never)).resolves.toBeDefined();
  });

  test('that a machine does not lend are refused', async () => {
    await expect(createPlaces(0).take(never)).rejects.toMatchObject({ code: 'no-lane' });
  });
});
