// How the wrapper checks read a file, and what they find.

/** `read` returns fewer bytes than asked for only at the end of the file. */
export type ByteSource = {
  readonly bytes: number;
  read(offset: number, length: number): Promise<Uint8Array>;
};

/** `silent`: the wrapper says nothing of its length. `what`: what is missing, as the middle of a sentence. */
export type LengthCheck =
  | { readonly kind: 'kept' | 'silent' }
  | { readonly kind: 'broken'; readonly what: string };
