"use strict";
(function () {
  const root = document.documentElement;
  const holder = document.getElementById("series");
  const data = JSON.parse(holder.textContent);

  // First value, then differences; null is a gap.
  function whole(row, scale) {
    let last = 0;
    return row.map(function (step) {
      if (step === null) { return null; }
      last += step;
      return last / scale;
    });
  }
  const frames = whole(data.frames, 1);
  const times = whole(data.times_ms, 1000);
  const count = times.length;
  const joints = data.joints.map(function (axes) { return [whole(axes[0], 1), whole(axes[1], 1)]; });
  const signals = {};
  Object.keys(data.signals).forEach(function (id) { signals[id] = whole(data.signals[id], 10); });

  // Printed pages show every reading.
  const opened = [];
  addEventListener("beforeprint", function () {
    document.querySelectorAll("details:not([open])").forEach(function (d) { d.open = true; opened.push(d); });
  });
  addEventListener("afterprint", function () {
    while (opened.length) { opened.pop().open = false; }
  });

  const scrub = document.getElementById("scrub");
  if (!scrub || count < 2) { return; }
  root.classList.add("script");
  const play = document.getElementById("play");
  const speed = document.getElementById("speed");
  const clock = document.getElementById("clock");
  const says = document.getElementById("moment");
  const bones = Array.from(document.querySelectorAll("#figure line"));
  const head = document.querySelector("#figure .head");
  const charts = Array.from(document.querySelectorAll("svg.chart[data-cursor]")).filter(function (svg) {
    return svg.dataset.cursor && svg.querySelector(".cursor");
  }).map(function (svg) {
    return {
      svg: svg, cursor: svg.querySelector(".cursor"),
      px: svg.dataset.px.split(" ").map(Number), at: svg.dataset.at.split(" ").map(Number),
      signals: svg.dataset.cursor === "time" ? null : svg.dataset.cursor.split(","),
    };
  });
  // The video beside the page leads while it plays and follows while it stands.
  let film = document.getElementById("film");
  const late = film ? Number(film.dataset.offset) : 0;
  if (film) {
    film.addEventListener("error", function () {
      const why = document.createElement("p");
      why.className = "absent";
      why.textContent = "The video beside this page, " + film.getAttribute("src") +
        ", cannot be played here: it is missing, or this browser has no H.264. The figure shows the same moments.";
      film.hidden = true;
      film.after(why);
      film = null;
    });
  }
  function seekFilm() {
    // A little after the frame's start, so that rounding never shows the one before.
    if (film) { film.currentTime = Math.max(0, times[now] + late + 0.004); }
  }
  let now = 0;
  scrub.max = String(count - 1);

  function show(element, there) { element.setAttribute("visibility", there ? "visible" : "hidden"); }
  function across(chart, value) {
    return chart.px[0] + (value - chart.at[0]) / (chart.at[1] - chart.at[0]) * (chart.px[1] - chart.px[0]);
  }
  function down(chart, value) {
    return chart.px[3] - (value - chart.at[2]) / (chart.at[3] - chart.at[2]) * (chart.px[3] - chart.px[2]);
  }
  function words(seconds) {
    const tenths = Math.round(seconds * 10);
    return String(Math.floor(tenths / 600)).padStart(2, "0") + ":" + String(Math.floor(tenths / 10) % 60).padStart(2, "0") + "." + tenths % 10;
  }
  function repetition(frame) {
    const found = data.reps.find(function (rep) { return rep[1] <= frame && frame <= rep[2]; });
    return found ? "repetition " + found[0] : "between repetitions";
  }

  function moveFigure(i) {
    bones.forEach(function (line) {
      const a = joints[line.dataset.a], b = joints[line.dataset.b];
      const there = a[0][i] !== null && b[0][i] !== null;
      show(line, there);
      if (there) {
        line.setAttribute("x1", a[0][i]); line.setAttribute("y1", a[1][i]);
        line.setAttribute("x2", b[0][i]); line.setAttribute("y2", b[1][i]);
      }
    });
    if (!head) { return; }
    const seen = data.head.filter(function (j) { return joints[j][0][i] !== null; });
    show(head, seen.length > 0);
    if (seen.length) {
      const mean = function (axis) {
        return seen.reduce(function (sum, j) { return sum + joints[j][axis][i]; }, 0) / seen.length;
      };
      head.setAttribute("cx", mean(0)); head.setAttribute("cy", mean(1));
    }
  }
  function moveCursors(i) {
    charts.forEach(function (chart) {
      if (!chart.signals) {
        const x = across(chart, times[i]);
        chart.cursor.setAttribute("x1", x); chart.cursor.setAttribute("x2", x);
        show(chart.cursor, true);
        return;
      }
      const a = signals[chart.signals[0]], b = signals[chart.signals[1]];
      const there = a && b && a[i] !== null && b[i] !== null
        && a[i] >= chart.at[0] && a[i] <= chart.at[1] && b[i] >= chart.at[2] && b[i] <= chart.at[3];
      show(chart.cursor, there);
      if (there) {
        chart.cursor.setAttribute("cx", across(chart, a[i])); chart.cursor.setAttribute("cy", down(chart, b[i]));
      }
    });
  }
  function go(i) {
    now = Math.max(0, Math.min(count - 1, i));
    scrub.value = String(now);
    const when = data.seconds ? words(times[now]) : "frame " + frames[now];
    const where = repetition(frames[now]);
    clock.textContent = when + ", " + where;
    scrub.setAttribute("aria-valuetext", when + ", " + where);
    moveFigure(now);
    moveCursors(now);
    if (!timer) { seekFilm(); }
  }
  function nearest(frame) {
    let low = 0, high = count - 1;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (frames[middle] < frame) { low = middle + 1; } else { high = middle; }
    }
    return low > 0 && frame - frames[low - 1] < frames[low] - frame ? low - 1 : low;
  }
  function forget() {
    document.querySelectorAll(".jump[aria-current]").forEach(function (b) { b.removeAttribute("aria-current"); });
    says.textContent = "";
  }

  let timer = 0, from = 0, began = 0;
  function pause() {
    cancelAnimationFrame(timer);
    timer = 0;
    // The film may be a picture ahead of what was last drawn.
    if (film) { film.pause(); seekFilm(); }
    play.textContent = "Play";
    play.setAttribute("aria-pressed", "false");
  }
  function tick(stamp) {
    const led = film && !film.paused && !film.seeking;
    const wanted = led ? film.currentTime - late : from + (stamp - began) / 1000 * Number(speed.value);
    let i = now;
    while (i < count - 1 && times[i + 1] <= wanted) { i += 1; }
    if (i !== now) { go(i); }
    if (now >= count - 1 || film && film.ended) { pause(); } else { timer = requestAnimationFrame(tick); }
  }
  function start() {
    if (now >= count - 1) { go(0); }
    forget();
    from = times[now];
    began = performance.now();
    if (film) {
      seekFilm();
      film.playbackRate = Number(speed.value);
      film.play().catch(function () {});
    }
    play.textContent = "Pause";
    play.setAttribute("aria-pressed", "true");
    timer = requestAnimationFrame(tick);
  }
  play.addEventListener("click", function () { if (timer) { pause(); } else { start(); } });
  speed.addEventListener("change", function () { if (film) { film.playbackRate = Number(speed.value); } from = times[now]; began = performance.now(); });
  scrub.addEventListener("input", function () { pause(); forget(); go(Number(scrub.value)); });
  document.getElementById("back").addEventListener("click", function () { pause(); forget(); go(now - 1); });
  document.getElementById("on").addEventListener("click", function () { pause(); forget(); go(now + 1); });
  document.querySelectorAll(".jump").forEach(function (button) {
    button.addEventListener("click", function () {
      pause();
      forget();
      go(nearest(Number(button.dataset.frame)));
      button.setAttribute("aria-current", "true");
      says.textContent = button.dataset.say;
      document.getElementById("replay").scrollIntoView({ block: "nearest" });
    });
  });
  charts.filter(function (chart) { return !chart.signals; }).forEach(function (chart) {
    chart.svg.addEventListener("click", function (event) {
      const box = chart.svg.getBoundingClientRect();
      const x = (event.clientX - box.left) / box.width * chart.svg.viewBox.baseVal.width;
      const time = chart.at[0] + (x - chart.px[0]) / (chart.px[1] - chart.px[0]) * (chart.at[1] - chart.at[0]);
      let i = 0;
      while (i < count - 1 && times[i + 1] <= time) { i += 1; }
      pause();
      forget();
      go(i);
    });
  });
  go(nearest(Number(holder.dataset.first)));
})();
