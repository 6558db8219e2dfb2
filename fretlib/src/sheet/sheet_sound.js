// The sound of the page: the string of the library, made here, so that nothing is fetched.

// A plucked string as samples. The same loop as in the library, where its sources are named.
const pluckedString = (frequency, decay, isNylon, amplitude, seconds, rate) => {
  const turn = 2 * Math.PI;
  const w = (turn * frequency) / rate;
  const keep = 10 ** (-decay / 20 / frequency);
  const damping = isNylon ? 0.5 : 0.25;
  const fall = (angle) => 1 - Math.cos(angle);
  const wanted = (2 * damping * (1 - damping) * fall((turn * 3000) / 44100)) / fall((turn * 3000) / rate);
  const most = (1 - (keep / 0.99999) ** 2) / fall(w);
  const u = Math.max(0, Math.min(wanted, 0.5, most));
  const kept = keep / Math.sqrt(1 - u * fall(w));
  const s = (1 - Math.sqrt(Math.max(0, 1 - 2 * u))) / 2;
  const rest = rate / frequency - Math.atan2(s * Math.sin(w), 1 - s + s * Math.cos(w)) / w;
  const length = Math.floor(rest - 0.5);
  const part = rest - length;
  const allpass = Math.sin(((1 - part) * w) / 2) / Math.sin(((1 + part) * w) / 2);

  const pluckedAt = 0.18;
  const wave = (at) => Math.min(1, Math.max(0, pluckedAt * length - at)) - pluckedAt;
  const cutoff = (isNylon ? 2200 : 7000) * (0.3 + 0.7 * amplitude);
  const step = 1 - Math.exp((-turn * cutoff) / rate);
  let level = 0;
  for (let at = 0; at < length; at++) level += step * (wave(at) - level);
  const period = Float64Array.from({ length }, (_, at) => (level += step * (wave(at) - level)));
  const mean = period.reduce((sum, it) => sum + it, 0) / length;
  const peak = period.reduce((peak, it) => Math.max(peak, Math.abs(it - mean)), 0);
  const loop = period.map((it) => ((it - mean) * 0.5 * amplitude) / peak);

  const samples = new Float32Array(Math.max(1, Math.round(seconds * rate)));
  let [at, lastRead, lastDamped, lastTuned] = [0, 0, 0, 0];
  for (let index = 0; index < samples.length; index++) {
    const read = loop[at];
    samples[index] = read;
    const damped = kept * ((1 - s) * read + s * lastRead);
    lastTuned = allpass * (damped - lastTuned) + lastDamped;
    [lastRead, lastDamped] = [read, damped];
    loop[at] = lastTuned;
    at = (at + 1) % length;
  }
  return samples;
};

// A note that ends: its last moment is faded evenly, as a finger damps a string.
const dampedString = (note, seconds, rate) => {
  const fade = 0.03;
  const samples = pluckedString(note.frequency, note.decay, note.isNylon, note.amplitude, seconds + fade, rate);
  const end = Math.round(seconds * rate);
  for (let index = end; index < samples.length; index++) {
    const left = 1 - (index - end) / (fade * rate);
    samples[index] *= left * left * (3 - 2 * left);
  }
  return samples;
};

// A click as samples. The same partials as in the library.
const click = (isAccented, rate) => {
  const turn = 2 * Math.PI;
  const [height, peak] = isAccented ? [1.4, 0.36] : [1, 0.25];
  const length = 0.045;
  return Float32Array.from({ length: Math.round(length * rate) }, (_, index) => {
    const time = index / rate;
    const wave = (frequency, share) => share * Math.cos(turn * frequency * height * time);
    const fade = Math.min(1, (length - time) / (length / 4));
    return peak * (wave(1910, 0.5) + wave(2790, 0.3) + wave(4330, 0.2)) * Math.exp(-time / 0.006) * fade;
  });
};

// The body of the guitar: frequency, gain in dB, quality.
const bodyModes = [
  [102, 3, 4],
  [204, 3, 3.5],
  [410, 2, 2.5],
];

// Connects a source to its listener through the body.
const throughBody = (context, listener) =>
  bodyModes.reduceRight((next, [frequency, gain, quality]) => {
    const mode = new BiquadFilterNode(context, { type: "peaking", frequency, gain, Q: quality });
    mode.connect(next);
    return mode;
  }, listener);

// What sounds on the page, by the numbers in its score.
const readScore = (text) => {
  const score = JSON.parse(text);
  const string = (start, end, frequency, decay, amplitude) => ({ start, end, frequency, decay, amplitude, isNylon: score.nylon });
  return {
    seconds: score.seconds,
    gain: score.gain,
    count: score.count,
    unit: score.unit,
    notes: score.notes.map(([number, ...rest]) => ({ number: String(number), ...string(...rest, 0.7) })),
    chords: score.chords.map((rest) => string(...rest, score.strength)),
    clicks: score.clicks.map(([start, isAccented]) => ({ start, end: start, isAccented })),
  };
};

// A source of what is to be heard, at a speed.
const sourceOf = (context, sound, speed) => {
  const rate = context.sampleRate;
  const isClick = "isAccented" in sound;
  const samples = isClick ? click(sound.isAccented, rate) : dampedString(sound, (sound.end - sound.start) / speed, rate);
  const buffer = new AudioBuffer({ length: samples.length, sampleRate: rate });
  buffer.copyToChannel(samples, 0);
  return new AudioBufferSourceNode(context, { buffer });
};

// Where the parts of the page go: strings through the body, clicks past it, all at the gain of the score.
const partsOf = (context, gain) => {
  const out = new GainNode(context, { gain });
  out.connect(context.destination);
  const body = throughBody(context, out);
  const part = (listener) => {
    const node = new GainNode(context);
    node.connect(listener);
    return node;
  };
  return { notes: part(body), chords: part(body), clicks: part(out) };
};

// Plays the score, frames what sounds, and loops between the first and the last note that are framed by the player.
const playPage = ({ byNote, frame, unframe, lit }) => {
  const score = readScore(document.getElementById("score").textContent);
  const { seconds, notes } = score;
  const button = document.getElementById("play");
  const slider = document.getElementById("tempo");
  const shown = slider.nextElementSibling;
  const wanted = { chords: document.getElementById("chords"), clicks: document.getElementById("click") };
  for (const [name, box] of Object.entries(wanted)) box.parentElement.hidden = score[name].length === 0;
  let context, parts, timer;
  let playing = false;
  let origin = 0; // When the music's second 0 sounds.
  let next = {}; // The next of each part to be scheduled.
  let sources = [];
  let framed = new Set();
  const speed = () => slider.value / 100;
  const now = () => (context.currentTime - origin) * speed();

  // From the lowest framed note to the highest, the first time they sound.
  const stretch = () => {
    const numbers = [...lit].map(Number).sort((one, other) => one - other);
    const first = notes.findIndex((note) => Number(note.number) === numbers[0]);
    const last = notes.findIndex((note, at) => at > first && Number(note.number) === numbers[numbers.length - 1]);
    return first < 0 || last < 0 ? [0, seconds] : [notes[first].start, notes[last].end];
  };
  const show = (numbers) => {
    const change = (from, other, act) => {
      for (const number of from) if (!other.has(number)) (byNote.get(number) ?? []).forEach((it) => act(it, "sounds"));
    };
    change(framed, numbers, unframe);
    change(numbers, framed, frame);
    framed = numbers;
  };
  const silence = () => {
    for (const source of sources) source.stop();
    sources = [];
  };
  const begin = (from) => {
    silence();
    origin = context.currentTime + 0.05 - from / speed();
    for (const name in parts) {
      const first = score[name].findIndex((sound) => sound.start >= from - 1e-6);
      next[name] = first < 0 ? score[name].length : first;
    }
  };
  const schedule = () => {
    const [from, to] = stretch();
    const until = Math.min(to - 1e-6, now() + 0.4 * speed());
    for (const name in parts) {
      while (next[name] < score[name].length && score[name][next[name]].start < until) {
        const sound = score[name][next[name]++];
        const source = sourceOf(context, sound, speed());
        source.connect(parts[name]);
        source.start(Math.max(context.currentTime, origin + sound.start / speed()));
        sources.push(source);
        source.addEventListener("ended", () => (sources = sources.filter((it) => it !== source)));
      }
    }
    if (now() >= to) {
      if (from === 0 && to === seconds) return stop();
      begin(from);
    }
    const heard = now() - (context.outputLatency || 0) * speed();
    show(new Set(notes.filter((it) => it.start <= heard && heard < it.end).map((it) => it.number)));
  };
  const start = () => {
    context ??= new AudioContext();
    parts ??= partsOf(context, score.gain);
    turn();
    context.resume();
    playing = true;
    button.textContent = "Stop";
    begin(stretch()[0]);
    timer = setInterval(schedule, 30);
  };
  const stop = () => {
    playing = false;
    clearInterval(timer);
    silence();
    show(new Set());
    button.textContent = "Play";
  };
  const toggle = () => (playing ? stop() : start());
  // A part that is not wanted is silent and goes on beside the others, so that it can come in at any time.
  const turn = () => {
    for (const [name, box] of Object.entries(wanted)) parts?.[name].gain.setTargetAtTime(box.checked ? 1 : 0, context.currentTime, 0.01);
  };
  const said = () => `${slider.value}%: ${Math.round(score.count * speed())} ${score.unit} a minute`;
  shown.textContent = said();
  for (const box of Object.values(wanted)) box.addEventListener("change", turn);
  button.addEventListener("click", toggle);
  slider.addEventListener("input", () => {
    shown.textContent = said();
  });
  slider.addEventListener("change", () => {
    if (playing) begin(stretch()[0]);
  });
  document.addEventListener("keydown", (event) => {
    if (event.key !== " " || event.target === button || event.target instanceof HTMLInputElement) return;
    event.preventDefault();
    toggle();
  });
};
