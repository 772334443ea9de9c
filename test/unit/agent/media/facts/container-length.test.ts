import { describe, expect, test } from 'vitest';
import type { ByteSource } from '../../../../../agent/media/facts/byte-source.ts';
import { checkLength } from '../../../../../agent/media/facts/container-length.ts';
import { hasEncryptedPicture } from '../../../../../agent/media/facts/iso-boxes.ts';

function source(bytes: Buffer): ByteSource {
  return { bytes: bytes.length, read: async (offset, length) => bytes.subarray(offset, offset + length) };
}

const box = (type: string, payload: number) => {
  const bytes = Buffer.alloc(8 + payload);
  bytes.writeUInt32BE(bytes.length);
  bytes.write(type, 4, 'latin1');
  return bytes;
};

describe('ISO and QuickTime boxes (ISO/IEC 14496-12)', () => {
  const film = Buffer.concat([box('ftyp', 16), box('moov', 100), box('mdat', 1000)]);

  test('add up to the file', async () => {
    expect(await checkLength(source(film), 'iso')).toEqual({ kind: 'kept' });
  });

  test('one byte less is a broken promise', async () => {
    const check = await checkLength(source(film.subarray(0, -1)), 'iso');
    expect(check).toEqual({
      kind: 'broken',
      what: `its mdat box ends at byte ${film.length}, the file at ${film.length - 1}`,
    });
  });

  test('a recording that never got its index is broken', async () => {
    const check = await checkLength(source(Buffer.concat([box('ftyp', 16), box('mdat', 1000)])), 'iso');
    expect(check).toMatchObject({ kind: 'broken', what: expect.stringContaining('no index') });
  });

  test('a box of 64-bit size, and one to the end of the file, are measured', async () => {
    const long = Buffer.concat([Buffer.alloc(16), Buffer.alloc(500)]);
    long.writeUInt32BE(1);
    long.write('mdat', 4, 'latin1');
    long.writeBigUInt64BE(BigInt(long.length), 8);
    const open = box('mdat', 300);
    open.writeUInt32BE(0);
    const whole = Buffer.concat([box('ftyp', 4), long, box('moov', 50), open]);
    expect(await checkLength(source(whole), 'iso')).toEqual({ kind: 'kept' });
    expect(
      await checkLength(source(Buffer.concat([box('moov', 8), long.subarray(0, 400)])), 'iso'),
    ).toMatchObject({ kind: 'broken' });
  });

  test('what a camera appends after the last box is no damage', async () => {
    const appended = Buffer.concat([
      film,
      Buffer.from('\u00ff\u00ff\u00ff\u00ffjunk that is no box', 'latin1'),
    ]);
    expect(await checkLength(source(appended), 'iso')).toEqual({ kind: 'kept' });
  });
});

describe('Matroska segment (RFC 8794, RFC 9559)', () => {
  const ebml = Buffer.from([0x1a, 0x45, 0xdf, 0xa3, 0x84, 1, 2, 3, 4]);
  const segment = (sizeField: readonly number[], payload: number) =>
    Buffer.concat([ebml, Buffer.from([0x18, 0x53, 0x80, 0x67, ...sizeField]), Buffer.alloc(payload)]);

  test('of known size is compared with the file', async () => {
    const whole = segment([0x01, 0, 0, 0, 0, 0, 0x02, 0x03], 0x203);
    expect(await checkLength(source(whole), 'matroska')).toEqual({ kind: 'kept' });
    expect(await checkLength(source(whole.subarray(0, -1)), 'matroska')).toMatchObject({ kind: 'broken' });
    expect(await checkLength(source(segment([0x40, 0x64], 99)), 'matroska')).toMatchObject({
      kind: 'broken',
    });
  });

  test('of unknown size promises nothing', async () => {
    for (const unknown of [[0x01, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff], [0xff]]) {
      expect(await checkLength(source(segment(unknown, 50)), 'matroska')).toEqual({ kind: 'silent' });
    }
  });
});

describe('RIFF chunks', () => {
  const riff = (form: string, payload: number) => {
    const bytes = Buffer.alloc(12 + payload);
    bytes.write('RIFF', 0, 'latin1');
    bytes.writeUInt32LE(4 + payload, 4);
    bytes.write(form, 8, 'latin1');
    return bytes;
  };

  test('all of them are compared with the file', async () => {
    const whole = Buffer.concat([riff('AVI ', 500), riff('AVIX', 300)]);
    expect(await checkLength(source(whole), 'avi')).toEqual({ kind: 'kept' });
    expect(await checkLength(source(whole.subarray(0, -100)), 'avi')).toMatchObject({ kind: 'broken' });
  });

  test('a recorder that lost power left a size of zero, which promises nothing', async () => {
    const unfinished = riff('AVI ', 500);
    unfinished.writeUInt32LE(0, 4);
    expect(await checkLength(source(unfinished), 'avi')).toEqual({ kind: 'silent' });
  });
});

describe('MXF partitions (SMPTE ST 377-1)', () => {
  const key = [
    0x06, 0x0e, 0x2b, 0x34, 0x02, 0x05, 0x01, 0x01, 0x0d, 0x01, 0x02, 0x01, 0x01, 0x02, 0x04, 0x00,
  ];
  const file = (footerAt: number, bytes: number) => {
    const whole = Buffer.alloc(bytes);
    // Key, BER length in four bytes; then versions (4), KAG (4), this and previous partition (16), footer.
    whole.set([...key, 0x83, 0, 0, 0x78]);
    whole.writeBigUInt64BE(BigInt(footerAt), 20 + 24);
    return source(whole);
  };

  test('the footer must be there; an open header tells of none', async () => {
    expect(await checkLength(file(5000, 5100), 'mxf')).toEqual({ kind: 'kept' });
    expect(await checkLength(file(5000, 4000), 'mxf')).toMatchObject({ kind: 'broken' });
    expect(await checkLength(file(0, 4000), 'mxf')).toEqual({ kind: 'silent' });
  });
});

test('a wrapper without a length promises nothing', async () => {
  expect(await checkLength(source(Buffer.alloc(100)), 'plain')).toEqual({ kind: 'silent' });
});

describe('encryption (ISO/IEC 23001-7)', () => {
  const nest = (types: readonly string[], inner: Buffer): Buffer => {
    const [type, ...rest] = types;
    if (type === undefined) return inner;
    const content = nest(rest, inner);
    const whole = box(type, content.length);
    content.copy(whole, 8);
    return whole;
  };
  const movie = (...entries: readonly string[]) => {
    const tracks = entries.map((entry) =>
      nest(['trak', 'mdia', 'minf', 'stbl', 'stsd'], Buffer.concat([Buffer.alloc(8), box(entry, 70)])),
    );
    return Buffer.concat([
      box('ftyp', 16),
      nest(['moov'], Buffer.concat([box('mvhd', 100), ...tracks])),
      box('mdat', 100),
    ]);
  };

  test('is told by the sample entry of any picture track', async () => {
    expect(await hasEncryptedPicture(source(movie('mp4a', 'encv')))).toBe(true);
    expect(await hasEncryptedPicture(source(movie('avc1', 'mp4a')))).toBe(false);
    expect(await hasEncryptedPicture(source(Buffer.concat([box('ftyp', 16), box('mdat', 100)])))).toBe(false);
  });
});
