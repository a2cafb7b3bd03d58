"use strict";

// The five parts of a job, drawn from what Python says of it. Each is a function of (words, what is known, what can be done).
const subbaseParts = (() => {
  const { make, fill, button, field, verdict, table, drawing, list } = subbaseDraw;

  const survey = (words, job, act) => {
    const text = make("textarea", { id: "survey-text", class: "survey", spellcheck: "false", autocapitalize: "off", autocomplete: "off" });
    text.value = job.text;
    const faults = job.faults.length
      ? [make("h2", {}, words.faults), make("ul", {}, job.faults.map((fault) => make("li", {}, make("b", {}, fault.where || ""), fault.where ? ": " : "", fault.text, fault.line ? ` ${fill(words.line, { line: fault.line })}` : "")))]
      : [];
    return [
      make("h1", {}, words.survey),
      ...faults,
      field(words.survey_text, text, words.survey_hint),
      make("p", { class: "choices" }, button(words.keep_text, () => act("edit", { text: text.value }, "plan"), "main")),
    ];
  };

  const question = (words, asked, act) => [
    make("h2", {}, asked.text),
    make("p", {}, fill(words.how, { how: asked.how })),
    make(
      "div",
      { class: "offered" },
      asked.answers.map((answer) => button([make("b", {}, answer.value), make("span", {}, answer.leads_to)], () => act("answer", { field: asked.field, index: answer.index }))),
    ),
    make("p", { class: "small quiet" }, fill(words.in_survey, { field: asked.field })),
  ];

  const plan = (words, found, act, seconds) => {
    if (!found) return [make("h1", {}, words.plan), verdict("question", words.no_survey)];
    const shown = [make("h1", {}, words.plan)];
    if (found.verdict === "planned") {
      shown.push(verdict("planned", found.line, fill(words.proved, { share: Math.round(found.margin * 100), at: found.margin_at })));
      for (const item of found.controls)
        shown.push(
          make("h2", {}, fill(words.what_to_do, { control: item.control })),
          make("ol", {}, item.steps.map((line) => make("li", {}, line))),
          table(item.landings, words, false, true),
          make("h3", {}, fill(words.set_control, { control: item.control })),
          make("dl", { class: "facts" }, item.settings.map(([name, value]) => [make("dt", {}, name), make("dd", {}, value)])),
        );
      shown.push(make("h2", {}, words.maps), drawing(found.maps.strips, "narrow"), drawing(found.maps.found, "wide"), drawing(found.maps.left, "wide"));
      shown.push(make("details", {}, make("summary", {}, words.ladder), drawing(found.maps.ladder, "")));
      shown.push(make("details", {}, make("summary", {}, words.tables), found.tables.map((one) => table(one, words))));
    } else if (found.verdict === "stopped") {
      if (found.stops.length) shown.push(...found.stops.map((stop) => verdict("stopped", stop.seen, stop.instead)));
      else shown.push(verdict("stopped", found.line), ...found.refused.map((one) => table(one, words)));
    } else {
      shown.push(verdict("question", found.line, words.answer_first));
      for (const item of found.contradictions) {
        shown.push(make("h2", {}, words.against), make("p", {}, item.text));
        if (item.would.length) shown.push(make("p", {}, words.agree), list(item.would));
      }
      for (const asked of found.questions) shown.push(...question(words, asked, act));
    }
    if (found.indifferent.length) shown.push(make("h2", {}, words.not_matter), list(found.indifferent));
    shown.push(make("h2", {}, words.cautions), table(found.cautions, words, false));
    shown.push(make("p", { class: "small quiet", id: "took" }, fill(words.took, { seconds: seconds.toFixed(1) })));
    return shown;
  };

  const day = (words, told, act) => {
    const season = make("select", { id: "season" }, make("option", { value: "" }, words.not_known), ["heating", "cooling"].map((name) => make("option", { value: name, selected: told.season === name }, words[`season ${name}`])));
    const outdoor = make("input", { id: "outdoor", inputmode: "decimal", autocomplete: "off", maxlength: "10", value: told.outdoor });
    const held = ["electrician", "gas", "refrigerant"].map((name) => make("label", { class: "pick" }, make("input", { type: "checkbox", name: `licence ${name}`, checked: told.licences.includes(name) }), words[`licence ${name}`]));
    const keep = () => {
      const fields = { season: season.value, outdoor: outdoor.value };
      for (const box of document.querySelectorAll("input[name^='licence ']")) if (box.checked) fields[box.name] = "yes";
      act("day", fields);
    };
    return make(
      "details",
      { open: !told.asked },
      make("summary", {}, words.day),
      make("p", { class: "small quiet" }, words.day_hint),
      field(words.season, season),
      field(fill(words.outdoor, { degrees: told.degrees }), outdoor),
      make("fieldset", {}, make("legend", {}, words.licences), held),
      make("p", { class: "choices" }, button(words.keep, keep, "main")),
    );
  };

  const stepActs = (words, step, mark, act) => {
    const tell = (what, more = {}) => act("step", { step: step.id, act: what, mark, ...more });
    if (step.status === "done" || step.status === "skipped")
      return [make("p", {}, [step.status_words, step.value, step.state_why].filter(Boolean).join(" ")), make("p", { class: "choices" }, button(words.take_back, () => tell("undo")), step.can_lock ? button(words.lock_out, () => tell("lock out")) : "")];
    const shown = [];
    if (step.status === "blocked") shown.push(verdict("question", words.waits_for, ...step.waits));
    if (step.status === "failed") shown.push(verdict("stopped", fill(words.not_met, { value: step.value, why: step.state_why }).trim(), step.otherwise));
    const who = make("input", { id: "who", maxlength: "120", autocomplete: "off" });
    if (step.status !== "blocked") {
      if (step.who) shown.push(field(words.who, who));
      if (step.unit) {
        const value = make("input", { id: "value", inputmode: "decimal", maxlength: "20", autocomplete: "off" });
        shown.push(field(fill(words.display, { unit: step.unit }), value));
        const row = [button(words.enter, () => tell("read", { value: value.value, who: who.value }), "main big")];
        if (step.unit === "ohm") row.push(button("OL", () => tell("ol", { who: who.value }), "big"));
        shown.push(make("p", { class: "choices" }, row));
      } else shown.push(make("p", { class: "choices" }, button(step.kind === "look" ? words.so : words.done, () => tell("done", { who: who.value }), "main big")));
    }
    if (step.status !== "blocked" || step.may_skip) {
      const reason = make("input", { id: "reason", maxlength: "300", autocomplete: "off" });
      const row = [];
      if (step.status !== "blocked") row.push(button(words.not_so, () => tell("not so", { reason: reason.value })));
      if (step.may_skip) row.push(button(words.skip, () => tell("skip", { reason: reason.value })));
      shown.push(make("details", {}, make("summary", {}, step.may_skip ? words.not_so_or_skip : words.not_so), field(words.reason, reason), make("p", { class: "choices" }, row)));
    }
    if (step.can_lock) shown.push(make("p", { class: "choices" }, button(words.lock_out, () => tell("lock out"))));
    return shown;
  };

  const work = (words, found, act, wanted, look) => {
    const shown = [make("h1", {}, words.work)];
    if (!found) return [...shown, verdict("question", words.no_plan)];
    const all = found.steps.length;
    shown.push(make("p", { class: "tally" }, fill(words.met, { met: found.met, all })), make("progress", { max: all, value: found.met, "aria-label": words.work }));
    if (found.left_behind) shown.push(make("p", { class: "caution" }, fill(words.left_behind, { count: found.left_behind })));
    shown.push(day(words, found.day, act));
    const byId = new Map(found.steps.map((step) => [step.id, step]));
    const skippable = found.steps.find((step) => step.may_skip && step.status === "blocked");
    const step = byId.get(wanted) || byId.get(found.open[0]) || skippable;
    if (!step) shown.push(verdict("planned", words.all_met));
    else
      shown.push(
        make(
          "article",
          { class: "step", id: "step" },
          make("p", { class: "phase" }, step.phase, " ", make("span", {}, `${found.steps.indexOf(step) + 1} / ${all}`)),
          step.caution ? make("p", { class: "caution" }, step.caution) : "",
          make("h2", {}, step.title),
          make("p", { class: "where" }, step.where),
          step.who ? make("p", {}, make("b", {}, fill(words.for_whom, { who: step.who }))) : "",
          step.lines.length ? make("ul", { class: "particulars" }, step.lines.map((line) => make("li", {}, line))) : "",
          step.must ? make("p", { class: "must" }, make("span", {}, words.must_read), " ", make("b", {}, step.must)) : "",
          step.if_low || step.if_high ? make("p", { class: "small" }, step.if_low ? `${fill(words.lower, { meaning: step.if_low })} ` : "", step.if_high ? fill(words.higher, { meaning: step.if_high }) : "") : "",
          make("p", { class: "why" }, step.why),
          step.otherwise ? make("p", { class: "small" }, make("b", {}, words.otherwise), " ", step.otherwise) : "",
          step.source ? make("p", { class: "small quiet" }, fill(words.source, { source: step.source })) : "",
          ...stepActs(words, step, found.mark, act),
        ),
      );
    if (wanted) shown.push(make("p", { class: "choices" }, button(words.next_step, () => look(""))));
    shown.push(
      make(
        "details",
        {},
        make("summary", {}, fill(words.all_steps, { count: all })),
        make("ol", { class: "listed" }, found.steps.map((one) => make("li", { class: one.status }, button([`${one.title} `, make("i", {}, `${one.sign} ${one.status_words}`)], () => look(one.id), "plain")))),
      ),
    );
    return shown;
  };

  const judgedWords = (words, found) => [
    make("span", { class: `mark ${found.look}` }, `${found.written}: ${found.words}.`),
    ` ${found.why}`,
    found.explained.length ? make("span", { class: "small" }, ` ${words.explained} ${found.explained.join("; ")}`) : "",
  ];

  const check = (words, found, act) => {
    const shown = [make("h1", {}, words.check)];
    if (!found) return [...shown, verdict("question", words.no_plan)];
    if (found.stop) shown.push(verdict("stopped", words.power_off, words.stays_off));
    shown.push(make("p", { class: "tally" }, fill(words.passed, { passed: found.passed, all: found.count })), make("p", {}, fill(words.excluded, { excluded: found.excluded, told: found.told })));
    if (found.taken_before) shown.push(make("p", { class: "caution" }, fill(words.taken_before, { count: found.taken_before })));
    let number = 0;
    for (const group of found.groups) {
      shown.push(make("h2", {}, group.title), make("p", { class: "caution" }, group.caution), group.note ? make("p", { class: "small" }, group.note) : "");
      for (const line of group.lines) {
        number += 1;
        const input = make("input", { id: `i-${line.id}`, inputmode: "decimal", autocomplete: "off", maxlength: "20", placeholder: line.unit, "aria-label": `${number}: ${line.ends}, ${line.unit}` });
        const enter = (value) => act("reading", { check: line.id, value, mark: found.mark });
        input.addEventListener("keydown", (event) => event.key === "Enter" && enter(input.value));
        shown.push(
          make(
            "div",
            { class: "sheet-line", id: `c-${line.id}` },
            make("div", {}, make("p", { class: "ends" }, `${number}. ${line.ends}`), make("p", { class: "small" }, fill(words.at_site, { site: line.site, must: line.must })), make("p", {}, line.verdict ? judgedWords(words, line.verdict) : "")),
            make(
              "p",
              { class: "enter" },
              input,
              line.unit === "ohm" ? make("button", { type: "button", "aria-label": `${number}: OL`, onclick: () => enter("OL") }, "OL") : "",
              make("button", { type: "button", class: "main", "aria-label": `${number}: ${words.enter}`, onclick: () => enter(input.value) }, words.enter),
            ),
          ),
        );
      }
    }
    const more = (title, told) => {
      if (!told.lines.length) return;
      shown.push(make("h2", {}, title), list(told.lines.map((line) => (line.worst ? `${line.words}: ${line.worst}` : line.words))));
      if (told.more) shown.push(make("p", { class: "quiet" }, fill(words.more, { count: told.more })));
    };
    more(words.possible, found.possible);
    more(words.untold, found.untold);
    shown.push(make("p", { class: "small quiet" }, words.not_here));
    return shown;
  };

  const handOver = (words, job, waiting, acts) => {
    const name = make("input", { id: "actor", maxlength: "120", autocomplete: "name" });
    name.value = acts.actor();
    name.addEventListener("change", () => acts.rename(name.value));
    const note = make("textarea", { id: "note", rows: "3", maxlength: "2000" });
    const to = make("input", { id: "to", maxlength: "120", autocomplete: "off" });
    return [
      make("h1", {}, words.hand_over),
      make("p", { id: "waiting", role: "status" }, waiting ? fill(words.waiting, { count: waiting }) : words.none_waiting),
      make("p", { class: "choices" }, button(words.save, acts.save, "main")),
      make("p", { class: "small quiet" }, words.save_hint),
      make("p", { class: "choices" }, button(words.send, acts.send)),
      make("p", { class: "small quiet" }, words.send_hint),
      make("p", { id: "sent", role: "status" }),
      make("p", { class: "choices" }, button(words.save_survey, acts.saveSurvey)),
      field(words.your_name, name, words.your_name_hint),
      field(words.note, note),
      make("p", { class: "choices" }, button(words.add_note, () => acts.act("note", { text: note.value }))),
      field(words.to, to),
      make("p", { class: "choices" }, button(words.record_handover, () => acts.act("hand over", { to: to.value }))),
      ...job.handed_over.map((one) => make("p", {}, fill(words.handed_to, { to: one }))),
      job.notes.length ? list(job.notes) : "",
      make("h2", {}, words.history),
      make(
        "ul",
        { class: "lines" },
        job.history
          .slice()
          .reverse()
          .map((line) =>
            make(
              "li",
              {},
              make("p", {}, `${new Date(line.at).toLocaleString()}: ${words[`kind ${line.kind}`] || line.kind}`, line.undone ? ` (${words.undone})` : " ", line.undone || line.kind === "named" ? "" : button(words.undo, () => acts.act("undo", { target: line.key }), "plain")),
            ),
          ),
      ),
      make("p", { class: "choices" }, button(words.forget, acts.forget)),
    ];
  };

  const start = (words, jobs, acts) => {
    const text = make("textarea", { id: "survey-text", class: "survey", spellcheck: "false", autocapitalize: "off", autocomplete: "off" });
    const file = make("input", { id: "survey-file", type: "file", accept: ".yaml,.yml,.json,text/*,application/json" });
    file.addEventListener("change", async () => {
      if (file.files[0]) text.value = await file.files[0].text();
    });
    return [
      make("h1", {}, words.title),
      make("p", {}, words.lead),
      make("p", { class: "small quiet" }, words.fetch_size),
      make("h2", {}, words.jobs),
      jobs.length ? make("ul", { class: "lines" }, jobs.map((job) => make("li", {}, make("a", { class: "whole", href: `#job/${job.id}/plan` }, make("b", {}, job.name))))) : make("p", {}, words.no_jobs),
      make("h2", {}, words.begin),
      field(words.open_file, file),
      field(words.survey_text, text, words.survey_hint),
      make("p", { class: "choices" }, button(words.begin_now, () => acts.begin(text.value), "main"), button(words.use_pattern, () => (text.value = words.pattern))),
    ];
  };
  return { survey, plan, work, check, handOver, start };
})();
