// A film shown frame by frame, by the real time of each frame. Knows nothing of the page.

export class Film {
  // times: seconds of each frame in the film's own clock; first: number of the first of them.
  constructor(video, on) {
    this.video = video;
    this.on = on; // {frame(number or null), state()}
    this.times = [];
    this.first = 0;
    this.shown = null;
    this.wanted = null;
    this.placed = null; // frame at which the film has arrived, though it may not be on screen yet
    this.loops = true;
    this.span = [0, 0]; // first and last frame that are played
    video.addEventListener('seeked', () => this.seeked());
    for (const name of ['play', 'pause', 'ratechange']) video.addEventListener(name, () => on.state());
    this.watch();
  }

  use(times, first) {
    this.times = times;
    this.first = first;
  }

  get last() { return this.first + this.times.length - 1; }
  get frame() { return this.wanted ?? this.placed ?? this.shown ?? this.span[0]; }

  // Frame that is shown at a time; null outside what is known.
  frameAt(seconds) {
    const {times} = this;
    if (!times.length || !(seconds >= times[0] - 0.002)) return null;
    let low = 0;
    let high = times.length - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      // A browser rounds to millionths of a second: half a thousandth is less than any frame.
      if (times[middle] <= seconds + 0.0005) low = middle;
      else high = middle - 1;
    }
    const end = times[low] + 2 * this.interval(low);
    return low === times.length - 1 && seconds > end ? null : this.first + low;
  }

  interval(i) {
    const {times} = this;
    if (times.length < 2) return 0.03;
    return i + 1 < times.length ? times[i + 1] - times[i] : times[i] - times[i - 1];
  }

  // In the middle of a frame, so that no rounding shows the one before it.
  secondsOf(frame) {
    const i = Math.min(Math.max(frame - this.first, 0), this.times.length - 1);
    return this.times[i] + this.interval(i) / 2;
  }

  watch() {
    if (!('requestVideoFrameCallback' in this.video)) {
      this.video.addEventListener('timeupdate', () => this.show(this.frameAt(this.video.currentTime)));
      return;
    }
    const again = (_, frame) => {
      this.show(this.frameAt(frame.mediaTime));
      this.video.requestVideoFrameCallback(again);
    };
    this.video.requestVideoFrameCallback(again);
  }

  show(frame) {
    this.shown = frame;
    if (frame === this.placed || !this.video.paused) this.placed = null;
    this.on.frame(frame);
    if (this.video.paused || this.video.seeking) return;
    if (frame === null || frame >= this.span[1]) {
      if (!this.loops) this.video.pause();
      else this.seek(this.span[0]);
    }
  }

  seek(frame) {
    if (!this.times.length) return;
    this.wanted = Math.min(Math.max(frame, this.first), this.last);
    if (!this.video.seeking) this.video.currentTime = this.secondsOf(this.wanted);
  }

  seeked() {
    if (this.wanted === null || !this.times.length) return;
    if (this.frameAt(this.video.currentTime) === this.wanted && this.shown === null) {
      this.show(this.wanted); // it was there before its number was known
    }
    // More was asked for while the film was on its way: only the last of it counts.
    if (this.frameAt(this.video.currentTime) !== this.wanted) {
      this.video.currentTime = this.secondsOf(this.wanted);
      return;
    }
    this.placed = this.shown === this.wanted ? null : this.wanted;
    this.wanted = null;
    if (!('requestVideoFrameCallback' in this.video)) this.show(this.frameAt(this.video.currentTime));
  }

  step(by) {
    this.video.pause();
    this.seek(this.frame + by);
  }

  stepSeconds(seconds) {
    this.video.pause();
    const now = this.times[Math.min(Math.max(this.frame - this.first, 0), this.times.length - 1)];
    const there = this.frameAt(Math.min(Math.max(now + seconds, this.times[0]), this.times[this.times.length - 1]));
    this.seek(there === this.frame ? this.frame + Math.sign(seconds) : there);
  }

  toggle() {
    if (!this.video.paused) { this.video.pause(); return; }
    if (this.frame >= this.span[1] || this.frame < this.span[0]) this.seek(this.span[0]);
    this.video.play().catch(() => {});
  }
}
