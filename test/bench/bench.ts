// What a benchmark is: a name, what it measures, the goal, and a run that answers one figure and how it came about.

export type Bench = {
  readonly name: string;
  /** One line for the list of benchmarks. */
  readonly about: string;
  readonly unit: string;
  /** The value should not be larger than this. */
  readonly goal: number;
  run(ground: BenchGround): Promise<BenchOutcome>;
};

export type BenchGround = {
  /** A folder of this run's own, removed afterwards. */
  readonly folder: string;
  /** Says how far the run is; never part of the result. */
  tell(line: string): void;
};

export type BenchOutcome = {
  readonly value: number;
  /** Every single measurement, so that nobody has to trust a median. */
  readonly detail: Readonly<Record<string, unknown>>;
};
