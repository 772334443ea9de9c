// N1 for every kind of source; test/integration/pictures-of-segments.test.ts says more.
import { describe, it } from 'vitest';
import { sourceNames } from '../support/sources/make-source.ts';
import { expectPicturesOfOnePass } from '../support/whole-way/one-pass.ts';

describe('the pictures of all segments together', () => {
  it.concurrent.each([...sourceNames])('%s: are those of one pass', (name) => expectPicturesOfOnePass(name));
});
