// Which charts a set of runs calls for.

/**
 * @param {object[]} runs of class Run
 * @returns {object[]} of each chart: title, unit (UDUNITS), traces of run, signal and what to call it
 */
export function plan(runs) {
    const compared = runs.length > 1;
    const charts = [];
    const add = (title, unit, traces, extra = {}) => {
        const present = traces.filter((trace) => trace.run.signal(trace.name));
        if (present.length > 0) charts.push({ title, unit, traces: present, ...extra });
    };
    const each = (name, label) => runs.map((run) => ({ run, name, label: compared ? run.letter : label }));
    const perStage = (suffix, title, unit, extra) => {
        const stages = [...new Set(runs.flatMap((run) => run.stages))];
        add(
            title,
            unit,
            stages.flatMap((stage) =>
                runs.map((run) => ({
                    run,
                    name: `${stage}.${suffix}`,
                    label:
                        [stages.length > 1 ? stage : null, compared ? run.letter : null].filter(Boolean).join(" ") ||
                        stage,
                })),
            ),
            extra,
        );
    };
    if (compared) {
        add("Outlet pressure", "Pa", each("outlet.pressure"), { limits: true });
        perStage("cover_pressure", "Cover pressure", "Pa");
        const steps = runs.some((run) => run.firstStep.length > 0);
        add(steps ? "Pressure between the steps" : "Inlet pressure", "Pa", each("inlet.pressure"));
    } else {
        const [run] = runs;
        const trace = (name, label) => ({ run, name, label });
        add(
            "Outlet pressure",
            "Pa",
            [
                trace("outlet.pressure", "outlet"),
                ...run.stages
                    .filter((stage) => !run.firstStep.includes(stage))
                    .map((stage) =>
                        trace(
                            `${stage}.${run.signal(`${stage}.setting`) ? "setting" : "set_pressure"}`,
                            run.stages.length > 1 ? `${stage} set, static` : "set, static",
                        ),
                    ),
            ],
            { limits: true },
        );
        add("Inlet and cover pressure", "Pa", [
            ...(run.firstStep.length > 0 ? [trace("first_step_inlet.pressure", "first step inlet")] : []),
            trace("inlet.pressure", run.firstStep.length > 0 ? "between the steps" : "inlet"),
            ...run.stages.map((stage) =>
                trace(`${stage}.cover_pressure`, run.stages.length > 1 ? `${stage} cover` : "cover"),
            ),
            ...run.stages.map((stage) =>
                trace(
                    `${stage}.sustaining_pressure`,
                    run.stages.length > 1 ? `${stage} sustains, static` : "sustains, static",
                ),
            ),
        ]);
    }
    const demands = [...new Set(runs.flatMap((run) => run.demands))];
    const only = demands.length === 1 ? demands[0] : null;
    if (only && !compared) {
        add("Flow", "m3 s-1", [
            ...runs[0].stages.map((stage) => ({ run: runs[0], name: `${stage}.flow`, label: `through ${stage}` })),
            { run: runs[0], name: `${only}.flow`, label: "delivered" },
            { run: runs[0], name: `${only}.wanted`, label: "wanted", context: true },
        ]);
    } else {
        if (!only || runs.some((run) => run.stages.length > 1)) perStage("flow", "Flow per stage", "m3 s-1");
        const delivered = demands.flatMap((demand) =>
            runs.map((run) => ({
                run,
                name: `${demand}.flow`,
                label: only ? run.letter : compared ? `${demand} ${run.letter}` : demand,
            })),
        );
        // What was wanted is the same in runs that differ in a setting of the valve; else the settings say so.
        add(
            only ? "Flow" : "Flow delivered",
            "m3 s-1",
            only
                ? [
                      ...delivered,
                      { run: runs[0], name: `${only}.wanted`, label: `wanted, ${runs[0].letter}`, context: true },
                  ]
                : delivered,
        );
    }
    perStage(
        "lift",
        runs.every((run) => run.stages.length === 1) ? "Lift of the main valve" : "Lift of every stage",
        "m",
    );
    perStage("pilot_lift", "Lift of the pilot", "m");
    perStage("sustaining_lift", "Lift of the sustaining pilot", "m");
    const perRelief = (what) =>
        runs.flatMap((run) =>
            run.reliefs.map((relief) => ({
                run,
                name: `${relief}.${what}`,
                label: [relief, compared ? run.letter : null].filter(Boolean).join(" "),
            })),
        );
    // One that stays shut needs no chart.
    if (perRelief("lift").some(({ run, name }) => run.signal(name).highest > 0)) {
        add("Lift of relief valves", "m", perRelief("lift"), { short: true });
        add("Flow of relief valves", "m3 s-1", perRelief("flow"), { short: true });
    }
    if (runs.some((run) => run.stages.some((stage) => (run.signal(`${stage}.cover_air_volume`)?.highest ?? 0) > 1e-9)))
        perStage("cover_air_volume", "Air in the cover", "m3");
    const turned = runs.flatMap((run) =>
        run.stages.flatMap((stage) =>
            ["opening_control", "closing_control"].map((what) => ({
                run,
                name: `${stage}.${what}`,
                label: [run.stages.length > 1 ? stage : null, what.split("_")[0], compared ? run.letter : null]
                    .filter(Boolean)
                    .join(" "),
            })),
        ),
    );
    // Needles nobody turns are in the settings and in the drawing.
    if (turned.some(({ run, name }) => run.signal(name) && !run.signal(name).constant))
        add("Needles, turns from seated", "turns", turned, { short: true, fromZero: true });
    return charts;
}
