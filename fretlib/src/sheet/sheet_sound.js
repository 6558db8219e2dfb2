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
  const samples = pluckedString(note.frequency, note.decay, note.isNylon, 0.7, seconds + fade, rate);
  const end = Math.round(seconds * rate);
  for (let index = end; index < samples.length; index++) {
    const left = 1 - (index - end) / (fade * rate);
    samples[index] *= left * left * (3 - 2 * left);
  }
  return samples;
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

// The notes of the page, by the numbers in its score.
const readScore = (text) => {
  const score = JSON.parse(text);
  const note = ([number, start, end, frequency, decay]) => ({
    number: String(number),
    start,
    end,
    frequency,
    decay,
    isNylon: score.nylon,
  });
  return { seconds: score.seconds, notes: score.notes.map(note) };
};

// Plays the score, frames what sounds, and loops between the first and the last note that are framed by the player.
const playPage = ({ byNote, frame, unframe, lit }) => {
  const { seconds, notes } = readScore(document.getElementById("score").textContent);
  const button = document.getElementById("play");
  const slider = document.getElementById("tempo");
  const shown = slider.nextElementSibling;
  let context, body, timer;
  let playing = false;
  let origin = 0; // When the music's second 0 sounds.
  let next = 0; // The next note to be scheduled.
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
    next = notes.findIndex((note) => note.start >= from - 1e-6);
    if (next < 0) next = notes.length;
  };
  const schedule = () => {
    const [from, to] = stretch();
    while (next < notes.length && notes[next].start < Math.min(to - 1e-6, now() + 0.4 * speed())) {
      const note = notes[next++];
      const samples = dampedString(note, (note.end - note.start) / speed(), context.sampleRate);
      const buffer = new AudioBuffer({ length: samples.length, sampleRate: context.sampleRate });
      buffer.copyToChannel(samples, 0);
      const source = new AudioBufferSourceNode(context, { buffer });
      source.connect(body);
      source.start(Math.max(context.currentTime, origin + note.start / speed()));
      sources.push(source);
      source.addEventListener("ended", () => (sources = sources.filter((it) => it !== source)));
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
    body ??= throughBody(context, context.destination);
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
  button.addEventListener("click", toggle);
  slider.addEventListener("input", () => {
    shown.textContent = slider.value + "%";
  });
  slider.addEventListener("change", () => {
    if (playing) begin(stretch()[0]);
  });
  document.addEventListener("keydown", (event) => {
    if (event.key !== " " || event.target === button || event.target === slider) return;
    event.preventDefault();
    toggle();
  });
};
