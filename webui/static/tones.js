// The sounder of a page: plays notes, pairs of hertz (0 is silence) and ms, like a block of wood.
"use strict";
window.treadle.play = (audio, notes, at) => {
  let when = at;
  for (const [hertz, ms] of notes) {
    const seconds = ms / 1000;
    if (hertz) {
      const tone = audio.createOscillator(), level = audio.createGain();
      tone.type = "triangle";
      tone.frequency.value = hertz;
      level.gain.setValueAtTime(0.0001, when);
      level.gain.exponentialRampToValueAtTime(0.4, when + 0.006);
      level.gain.exponentialRampToValueAtTime(0.12, when + Math.max(0.02, seconds * 0.6));
      level.gain.exponentialRampToValueAtTime(0.0001, when + seconds + 0.02);
      tone.connect(level).connect(audio.destination);
      tone.start(when);
      tone.stop(when + seconds + 0.03);
    }
    when += seconds;
  }
};
