// Who takes part in the demo: an invented studio with three machines of unequal strength, one film, two wishes.

export type DemoMachine = {
  readonly name: string;
  /** One letter for it in the picture of the film. */
  readonly letter: string;
  /** What it is, for whoever watches. */
  readonly about: string;
  /** Keys of the agent's own configuration. */
  readonly config: { readonly encodePlaces: number; readonly deskPlaces: number };
  /** Added to the niceness of the agent and its encoders: how much this machine leaves to the others. */
  readonly niceness: number;
};

export const studio = 'Lantern & Tide Pictures';

export const machines: readonly DemoMachine[] = [
  {
    name: 'grading-room',
    letter: 'G',
    about: 'two encoders at a time',
    config: { encodePlaces: 2, deskPlaces: 2 },
    niceness: 0,
  },
  {
    name: 'cutting-room',
    letter: 'C',
    about: 'one encoder',
    config: { encodePlaces: 1, deskPlaces: 1 },
    niceness: 0,
  },
  {
    name: 'old-laptop',
    letter: 'L',
    about: 'one encoder that leaves most of the processor to the others',
    config: { encodePlaces: 1, deskPlaces: 0 },
    niceness: 5,
  },
];

export const film = { title: 'The Ferry at Low Water', path: 'day07/B012_ferry.mov' } as const;

/** Both are made of the same film at the same time. */
export const wishes = [
  { format: 'edit-proxy', to: 'delivery:proxies/day07' },
  { format: 'review-copy', to: 'delivery:review/day07' },
] as const;
