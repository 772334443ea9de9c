// The package ships no types; only what the tests call is declared.
declare module 'smpte-timecode' {
  class Timecode {
    constructor(frame: number, rate: number, dropFrame: boolean);
    toString(): string;
  }
  export = Timecode;
}
