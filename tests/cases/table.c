/* Which kind of case is which calculation.
 *
 * inputs:  items apart by ';', each  INPUT = JSON:UNIT | JSON:UNIT ...  : the first JSON name that the case has is
 * given to the input, in that unit. UNIT @name takes the unit from that JSON text; /UNIT is one over so many (threads
 * per inch: /in); none for text, flags and bare numbers. INPUT = #TEXT gives a constant. An array for a single number
 * runs the calculation for each. outputs: JSON = OUTPUT:UNIT; UNIT "words" makes a list of a text's words, "why" gives
 * the reason of a result that is none.
 */
#include "cases.h"

#include "calc/calc.h"

#include <math.h>
#include <string.h>

#define POINTS "t1=t1_degC:degC|t1_degF:degF; v1=v1:mm2/s; t2=t2_degC:degC|t2_degF:degF; v2=v2:mm2/s; zero=zero_offset"
#define TEMP "temperature=t_degC:degC|t_degF:degF"
#define JOINT                                                                 \
    "pitch=pitch_mm:mm|tpi:/in; bolt=kb_N_per_mm:N/mm|kb_lbf_per_in:lbf/in; " \
    "members=km_N_per_mm:N/mm|km_lbf_per_in:lbf/in; "                         \
    "proof=proof_N:N|proof_lbf:lbf"
#define LEVER "wrench=wrench_length:mm; adapter=adapter_length:mm; angle=angle_deg:deg"
#define ASH "density=density_kg_per_L:kg/L; ash=ash_percent:%; retained=retained"
#define FILTER_DP \
    "drop=dp_measured:bar; v1=v_measured:mm2/s; v2=v_ref:mm2/s; flow1=flow_measured:L/min; flow2=flow_ref:L/min"

/* clang-format off */
static const struct case_kind kinds[] = {
    {"units", "convert", NULL, "value; from; to; sum", NULL, case_convert},
    {"units", "convert_difference", NULL, "value; from; to", NULL, case_convert_difference},

    {"tyres", "tyre_temp", NULL, "gauge; unit; t1_degF; t2_degF; t1_degC; t2_degC; atm1; atm2; zero_offset_degF; zero_offset_degC", NULL, case_tyre_temp},
    {"tyres", "isa_pressure", "atmosphere", "altitude=altitude_m:m|altitude_ft:ft", "Pa=pressure:Pa; psia=pressure:psi; kPa=pressure:kPa", NULL},
    {"tyres", "tyre_altitude", "tyre-pressure", "gauge=gauge:@unit; from=t1_degC:degC|t1_degF:degF; to=t2_degC:degC|t2_degF:degF; altitude1=altitude1_m:m|altitude1_ft:ft; altitude2=altitude2_m:m|altitude2_ft:ft", "gauge=gauge:@unit", NULL},
    {"tyres", "tyre_set_hot", "tyre-pressure", "gauge=target_gauge:@unit; from=t_target_degC:degC|t_target_degF:degF; to=t_now_degC:degC|t_now_degF:degF; ambient1=atm1:@unit; ambient2=atm2:@unit", "set_gauge=gauge:@unit", NULL},
    {"tyres", "tyre_leak", "tyre-leak", "reading1=reading1:@unit; temperature1=t1_degC:degC|t1_degF:degF; reading2=reading2:@unit; temperature2=t2_degC:degC|t2_degF:degF; time=days:d; reference=ref_degC:degC|ref_degF:degF; minimum=minimum:@unit; ambient=atm:@unit", "corrected1=corrected1:@unit; corrected2=corrected2:@unit; loss_per_day=loss:@unit; days_left=left:d; days_left_uncorrected=left-uncorrected:d", NULL},

    {"bolts", "stress_area_metric", "thread-area", "diameter=d_mm:mm; pitch=pitch_mm:mm; form=#iso", "As_mm2=area:mm2", NULL},
    {"bolts", "stress_area_inch", "thread-area", "diameter=D_in:in; pitch=tpi:/in; form=#unified", "At_in2=area:in2", NULL},
    {"bolts", "proof_load_metric", "proof-load", "class=property_class; diameter=d_mm:mm; area=As_mm2:mm2", "proof_N=load:N; proof_MPa=stress:MPa", NULL},
    {"bolts", "torque_from_preload", "clamp-torque", "diameter=D_in:in|d_mm:mm; area=At_in2:in2|As_mm2:mm2; proof=proof_psi:psi|proof_MPa:MPa; share=fraction; k=K", "clamp_lbf=clamp:lbf; torque_lbf_ft=torque:lbf.ft; torque_lbf_in=torque:lbf.in; clamp_N=clamp:N; torque_Nm=torque:N.m", NULL},
    {"bolts", "tkdf", "bolt-torque", "k=K; diameter=D_in:in|d_mm:mm; preload=F_lbf:lbf|F_N:N", "torque_lbf_in=torque:lbf.in; torque_lbf_ft=torque:lbf.ft; torque_Nm=torque:N.m", NULL},
    {"bolts", "preload_from_torque|k_sensitivity", "bolt-preload", "torque=torque_Nm:N.m|torque_lbf_ft:lbf.ft; k=K; diameter=d_mm:mm|D_in:in; area=As_mm2:mm2|At_in2:in2; proof=proof_N:N|proof_lbf:lbf", "preload_N=preload:N; preload_lbf=preload:lbf; stress_MPa=stress:MPa; stress_psi=stress:psi; fraction_of_proof=proof-share:1", NULL},
    {"bolts", "crowfoot", "crowfoot", "torque=torque:N.m; " LEVER, "setting=setting:N.m", NULL},
    {"bolts", "crowfoot_applied", "crowfoot-applied", "setting=setting:N.m; " LEVER, "applied=torque:N.m", NULL},
    {"bolts", "angle_preload", "angle-preload", "angle=angle_deg:deg; " JOINT, "preload_gain_N=preload:N; preload_gain_lbf=preload:lbf", NULL},
    {"bolts", "angle_preload", "preload-angle", "preload=preload_lbf:lbf|preload_N:N; " JOINT, "angle_deg=angle:deg", NULL},

    {"viscosity", "vi", "viscosity-index", "v40=kv40:mm2/s; v100=kv100:mm2/s", "VI=index; VI_unrounded=unrounded", NULL},
    {"viscosity", "iso_vg", "iso-grade", "v40=kv40:mm2/s", "vg=grade", NULL},
    {"viscosity", "iso_vg_limits", "iso-grade-limits", "grade=vg", "min=low:mm2/s; mid=mid:mm2/s; max=high:mm2/s", NULL},
    {"viscosity", "d341_fit|d341_fit_low", "viscosity", POINTS "; at=at_degC:degC|at_degF:degF", "A=a; B=b; v=v:mm2/s", NULL},
    {"viscosity", "d341_temp", "viscosity-temperature", POINTS "; v=v_target:mm2/s", "t_degC=t:degC; t_degF=t:degF", NULL},
    {"viscosity", "j300", "engine-oil-grade", "v100=kv100:mm2/s", "grades=grades:words", NULL},
    {"viscosity", "refutas_index", "blend-number", "v=v:mm2/s", "VBN=number", NULL},
    {"viscosity", "refutas_blend|astm_blend", NULL, "parts", NULL, case_blend},
    {"viscosity", "window", "pump-window", "v=v:mm2/s; floor=floor:mm2/s; optimum-low=optimum_low:mm2/s; optimum-high=optimum_high:mm2/s; start-most=start_max:mm2/s", "state=state", NULL},
    {"viscosity", "ssu", "saybolt", "v=v:mm2/s", "SUS=seconds:s", NULL},
    {"viscosity", "ssu", "saybolt-viscosity", "seconds=SUS:s|ssu:s", "v=v:mm2/s", NULL},

    {"filter_dp", "dp_scale", "filter-drop", FILTER_DP, "dp_ref=drop:bar", NULL},
    {"filter_dp", "dp_scale_density", "filter-drop", FILTER_DP "; t1=t_measured_degC:degC; t2=t_ref_degC:degC; density15=rho15:kg/m3; expansion=beta", "dp_ref=drop:bar", NULL},
    {"filter_dp", "dp_temp", "filter-cold", "drop=dp_at_ref:bar; v=v_ref:mm2/s; limit=dp_limit:bar; " POINTS, "v_limit=v:mm2/s; t_degC=t:degC", NULL},
    {"filter_dp", "dp_element_housing", "filter-assembly", "element=element_dp:bar; element-v=element_v:mm2/s; housing=housing_dp:bar; v=v:mm2/s; flow-ratio=flow_ratio", "dp=drop:bar", NULL},

    {"coolant", "freeze_table", "coolant-freezing", "glycol=glycol; share=percent_volume:%", "freeze_degC=temperature:degC; freeze_degF=temperature:degF", NULL},
    {"coolant", "freeze_spread", "coolant-freezing-mass", "glycol=glycol; share=percent_mass:%", "freeze_degC_low=low:degC; freeze_degC_high=high:degC", NULL},
    {"coolant", "drain_fill", "coolant-drain", "volume=volume:L; now=now; target=target; fill=fill", "drain=drain:L", NULL},
    {"coolant", "boil_water", "water-boiling", "pressure=p_abs_kPa:kPa", "degC=temperature:degC; degF=temperature:degF", NULL},
    {"coolant", "boil_mix", "coolant-boiling", "glycol=glycol; share=percent_volume:%; cap=cap_psi:psi|cap_kPa:kPa|cap_bar:bar; altitude=altitude_m:m|altitude_ft:ft", "degF=temperature:degF; degC=temperature:degC", NULL},

    {"battery", "sg_correct|sg_sign", NULL, "reading; t; unit; ref; per_degree", NULL, case_gravity},
    {"battery", "soc_ocv|soc_clamp", "charge-voltage", "voltage=volts:V; system=system_V:V", "soc_percent=charge:%; reason=charge:why", NULL},
    {"battery", "soc_sg|soc_clamp", "charge-gravity", "gravity=sg", "soc_percent=charge:%; reason=charge:why", NULL},
    {"battery", "load_test", "battery-load-test", "cca=cca:A; " TEMP "; voltage=volts_at_15s:V", "load_A=load:A; minimum_V=minimum:V; pass=pass", NULL},
    {"battery", "freeze_electrolyte", "acid-freezing", "gravity=sg; " TEMP, "freeze_degC=freezing:degC; freeze_degF=freezing:degF; may_freeze=may-freeze", NULL},
    {"battery", "crank_voltage", "cranking-voltage", "system=system_V:V; " TEMP "; voltage=volts:V", "low_V=low:V; high_V=high:V; state=state", NULL},

    {"cleanliness", "iso4406_scale", NULL, "per_ml; per_100ml", NULL, case_iso_scale},
    {"cleanliness", "iso4406_code|iso4406_reject", NULL, "per_ml; per_100ml; raw_counts", NULL, case_iso_code},
    {"cleanliness", "iso4406_range", "cleanliness-range", "scale=scale", "more_than=more-than; up_to=up-to", NULL},
    {"cleanliness", "iso4406_target", "cleanliness-target", "code=code; target=target", "meets=meets; worst_excess=worst-excess", NULL},
    {"cleanliness", "as4059_class", NULL, "per_100ml_gt", NULL, case_as4059},

    {"used_oil", "wear_rate_leak", "wear-rate", "concentration=C_ppm; sump=V_L:L; top-up=q_L_per_h:L; time=hours:h", "ppm_per_100h=rate; naive_ppm_per_100h=naive", NULL},
    {"used_oil", "wear_discrete", "wear-after-loss", "sump=V_L:L; loss=loss_L:L; at-loss=ppm_at_loss; now=ppm_now; time=hours:h", "equivalent_ppm=equivalent; ppm_per_100h=rate", NULL},
    {"used_oil", "wear_interval", "wear-between", "sump=V_L:L; loss=loss_L:L; first=ppm_first; second=ppm_second", "ppm_gain=gain", NULL},
    {"used_oil", "stats", "oil-limits", "values=values; k=k", "mean=mean; s=deviation; limits=limits", NULL},
    {"used_oil", "percent_change", NULL, "new; used", NULL, case_percent_change},
    {"used_oil", "dilution", "fuel-dilution", "fresh=new40:mm2/s; used=used40:mm2/s; fuel=fuel40:mm2/s", "percent=share:%", NULL},
    {"used_oil", "limits_are_data", "oil-limit", "value=water_percent|soot_percent|fuel_percent|glycol_percent|value_percent|value; limit=limit_percent|limit", "state=state", NULL},

    {"dpf", "ash_mass", "ash-mass", "oil=oil_L:L; " ASH, "ash_g=ash:g", NULL},
    {"dpf", "ash_hours", "ash-hours", "oil=oil_L_per_h:L; filter=filter_L:L; limit=limit_g_per_L:g/L; now=ash_now_g:g; " ASH, "g_per_h=ash:g; hours=time:h", NULL},
    {"dpf", "ash_hours_fuel", "ash-mass", "fuel=fuel_L_per_h:L; oil-share=oil_share_of_fuel; " ASH, "g_per_h=ash:g", NULL},
    {"dpf", "ash_fraction", "ash-share", "ash=ash_g_per_L:g/L; soot=soot_g_per_L:g/L", "ash_share=share:1", NULL},
    {"dpf", "soot_load", "soot-load", "soot=soot_g:g; filter=filter_L:L; limit=limit_g_per_L:g/L", "g_per_L=load:g/L; over=over", NULL},
    {"dpf", "regen_range", "burn-range", TEMP, "state=state", NULL},
    {"dpf", "ash_oil_choice", "ash-ratio", "ash-a=ash_percent_a:%; ash-b=ash_percent_b:%", "ratio=ratio", NULL},

    {"hydraulics", "pump", "pump-flow", "displacement=cm3_per_rev:cm3/rev; speed=rpm:rpm; measured=measured_L_min:L/min", "theoretical_L_min=flow:L/min; volumetric_efficiency=efficiency:1; internal_leak_L_min=leak:L/min", NULL},
    {"hydraulics", "pump_us", "pump-flow", "displacement=in3_per_rev:in3/rev; speed=rpm:rpm; measured=measured_gpm:US gal/min", "gpm=flow:US gal/min; volumetric_efficiency=efficiency:1; internal_leak_gpm=leak:US gal/min", NULL},
    {"hydraulics", "cylinder", "cylinder", "bore=bore_mm:mm; rod=rod_mm:mm; pressure=bar:bar; flow=L_min:L/min", "push_N=push:N; pull_N=pull:N; extend_m_s=extend:m/s; retract_m_s=retract:m/s", NULL},
    {"hydraulics", "cylinder_us", "cylinder", "bore=bore_in:in; rod=rod_in:in; pressure=psi:psi; flow=gpm:US gal/min", "push_lbf=push:lbf; pull_lbf=pull:lbf; extend_ft_s=extend:ft/s; retract_ft_s=retract:ft/s", NULL},
    {"hydraulics", "motor", "motor", "displacement=cm3_per_rev:cm3/rev; flow=L_min:L/min; volumetric=vol_eff; pressure=bar:bar; mechanical=mech_eff", "rpm=speed:rpm; torque_Nm=torque:N.m", NULL},
    {"hydraulics", "motor_us", "motor", "displacement=in3_per_rev:in3/rev; flow=gpm:US gal/min; volumetric=vol_eff; pressure=psi:psi; mechanical=mech_eff", "rpm=speed:rpm; torque_lbf_in=torque:lbf.in; torque_lbf_ft=torque:lbf.ft", NULL},
    {"hydraulics", "power|power_us", NULL, "bar; L_min; psi; gpm", NULL, case_power},
    {"hydraulics", "velocity", "line-velocity", "flow=gpm:US gal/min|L_min:L/min; inside=id_in:in|id_mm:mm; line=line", "ft_s=velocity:ft/s; m_s=velocity:m/s; state=state", NULL},
    {"hydraulics", "counterbalance", "counterbalance", "load=load_bar:bar|load_psi:psi; factor=factor; ratio=pilot_ratio", "setting_bar=setting:bar; pilot_bar=pilot:bar; setting_psi=setting:psi; pilot_psi=pilot:psi", NULL},
    {"hydraulics", "screw_turns", "screw-turns", "now=now_bar:bar|now_psi:psi; want=want_bar:bar|want_psi:psi; per-turn=bar_per_turn:bar|psi_per_turn:psi", "turns=turns; direction=direction", NULL},
    {"hydraulics", "relief_heat", "hydraulic-power", "pressure=bar:bar|psi:psi; flow=L_min:L/min|gpm:US gal/min", "kW=power:kW; hp=power:hp", NULL},
    {"hydraulics", "load_pressure", "load-pressure", "mass=mass_kg:kg|mass_lb:lb; bore=bore_mm:mm|bore_in:in", "bar=pressure:bar; psi=pressure:psi", NULL},

    {"belts_chain_grease", "belt_deflection", "belt-deflection", "span=span_in:in|span_mm:mm", "deflection_in=deflection:in; deflection_mm=deflection:mm", NULL},
    {"belts_chain_grease", "belt_span", "belt-span", "centre=centre:in; large=D:in; small=d:in", "span=span:in; deflection=deflection:in", NULL},
    {"belts_chain_grease", "belt_force", "belt-force", "force=force_lb:lbf|force_N:N; used=used_lb:lbf|used_N:N; new=new_lb:lbf|new_N:N", "state=state", NULL},
    {"belts_chain_grease", "chain_elongation", "chain-elongation", "pitches=pitches; pitch=pitch:in; measured=measured:in; teeth=teeth_large; fixed=fixed_centres", "elongation_percent=elongation:%; replace=replace; limit_percent=limit:%", NULL},
    {"belts_chain_grease", "chain_limit", "chain-limit", "teeth=teeth_large; fixed=fixed_centres", "limit_percent=limit:%", NULL},
    {"belts_chain_grease", "grease_quantity|grease_quantity_inch", "grease-quantity", "outside=D_mm:mm|D_in:in; width=B_mm:mm|B_in:in", "g=grease:g; oz=grease:oz", NULL},
    {"belts_chain_grease", "relube_interval", "grease-interval", "k=k; speed=rpm:rpm; bore=d_mm:mm; temperature=bearing_degC:degC", "hours=time:h", NULL},
    {"belts_chain_grease", "relube_temp", "grease-temperature", "time=hours:h; temperature=bearing_degC:degC", "hours=time:h", NULL},
    {"belts_chain_grease", "grease_strokes", "grease-strokes", "grease=g:g; stroke=g_per_stroke:g", "strokes=strokes", NULL},

    {"electrical", "crank_drop", "cranking-drop", "current=amps:A; measured=measured_V:V; per-100-a=V_per_100A:V", "limit_V=limit:V; ok=ok", NULL},
    {"electrical", "wire_drop", "wire-drop", "current=amps:A; length=one_way_m:m|one_way_ft:ft; section=mm2:mm2; system=system_V:V; temperature=t_degC:degC", "drop_V=drop:V; percent=share:%", NULL},
    {"electrical", "fuse_min", "fuse", "load=load_A:A; factor=factor; wire=wire_A:A; series=series:A", "minimum_A=minimum:A; allowed=allowed:A", NULL},
    {"electrical", "charge_window", "charging-voltage", TEMP "; voltage=volts:V", "low_V=low:V; high_V=high:V; ok=ok; state=state", NULL},
    {"electrical", "charge_window_table", "charging-voltage-table", TEMP "; voltage=volts:V", "low_V=low:V; high_V=high:V; ok=ok; state=state", NULL},

    {"economics", "euac", "economic-life", "first-cost=first_cost; market=market; annual=annual; rate=i", "euac=euac; best_year=best-year; at_end=at-end; state=state", NULL},
    {"economics", "hourly_ownership", "ownership", "price=price_less_tyres|price; salvage=salvage; years=years; hours=hours_per_year; rate=rate", "aai=investment; money_per_h=money; depreciation_per_h=depreciation; total_per_h=total", NULL},
    {"economics", "hourly_depreciation", "ownership", "price=price; salvage=salvage; years=years; hours=hours_per_year", "per_h=depreciation", NULL},
    {"economics", "present_worth", "present-worth", "amount=amount; rate=i; years=years", "pw=worth", NULL},
    {"economics", "present_worth_flows", NULL, "i; flows; annual; annual_years", NULL, case_flows},

    {"calendar_text", "whichever_first", NULL, "last_date; last_hours; every_hours; every_months; every_days; today; hours_now", NULL, case_whichever_first},
    {"calendar_text", "add_months", NULL, "date; months", NULL, case_add_months},
    {"calendar_text", "iso_week", NULL, "date", NULL, case_iso_week},
    {"calendar_text", "valid_date", NULL, "date", NULL, case_valid_date},
    {"calendar_text", "local_to_utc", NULL, "tz; local", NULL, case_local_to_utc},
    {"calendar_text", "day_length", NULL, "tz; date", NULL, case_day_length},
    {"calendar_text", "duration_seconds", NULL, "duration", NULL, case_duration},
    {"calendar_text", "ical_unfold", NULL, "lines", NULL, case_ical_unfold},
    {"calendar_text", "ical_escape", NULL, "text", NULL, case_ical_escape},
    {"calendar_text", "ical_fold", NULL, "line", NULL, case_ical_fold},
    {"calendar_text", "csv_write", NULL, "fields; quote_all", NULL, case_csv_write},
    {"calendar_text", "csv_read", NULL, "text", NULL, case_csv_read},

    {"01_life_fit", "", NULL, "observations; n; n_failed; distributions; known_beta; running; failed; confidence", NULL, case_life_fit},
    {"02_kaplan_meier", "", NULL, "rows; conf; intervals", NULL, case_survival},
    {"03_mcf", "", NULL, "units; conf", NULL, case_mcf},
    {"04_nhpp_trend", "", NULL, "times; T; truncation; systems", NULL, case_power_law},
    {"05_replacement", "", NULL, "policy; beta; eta; cost_planned; cost_failure; cost_minimal_repair; t", NULL, case_replacement},
    {"06_first_passage", "", NULL, "process; L; mu; sigma2; a; b; t; p; x", NULL, case_first_passage},
    {"07_rates_eb", "", NULL, "x; t; mtbf50; mtbf05; prior_alpha; prior_beta; failures; time", NULL, case_rates},
    {"08_spares", "", NULL, "lead_time_demand_mean; S; targets; weekly_demand_pmf; weeks; demand; alpha; price; cost; uniform; normal; lognormal; pmf; cost_under; cost_over", NULL, case_spares},
    {"09_bayes_net", "", NULL, "network; evidence_sets; actions; penalty_if_unsolved", NULL, case_trace},
    {"10_regression_trend", "", NULL, "x; X; y; conf; model; start1; start2", NULL, case_regression},
    {"11_robust_limits", "", NULL, "x; n; coverage; confidence", NULL, case_robust},
};
/* clang-format on */

/* "a|b" has the kind. */
static bool row_has_kind(const struct case_kind *row, struct str kind)
{
    struct str rest = str_of(row->kind);
    struct str piece;
    while (str_next(&rest, '|', &piece)) {
        if (str_eq(piece, kind)) {
            return true;
        }
    }
    return false;
}

/* The JSON name of "name:unit". */
static struct str json_name(struct str alternative)
{
    struct str name = alternative;
    str_next(&alternative, ':', &name);
    return str_trim(name);
}

/* Whether the row reads an input of that JSON name. */
static bool row_reads(const struct case_kind *row, struct str wanted)
{
    struct str items = str_of(row->inputs);
    struct str item;
    while (str_next(&items, ';', &item)) {
        ptrdiff_t equals = str_find(item, S("="));
        struct str rest = equals < 0 ? item : str_cut(item, (size_t)equals + 1, item.n);
        struct str alternative;
        while (str_next(&rest, '|', &alternative)) {
            ptrdiff_t at = str_find(alternative, S("@"));
            if (str_eq(json_name(alternative), wanted) ||
                (at >= 0 && str_eq(str_trim(str_cut(alternative, (size_t)at + 1, alternative.n)), wanted))) {
                return true;
            }
        }
    }
    return false;
}

static size_t names_unknown(const struct case_kind *row, const json_t *inputs)
{
    size_t unknown = 0;
    void *it = NULL;
    for (it = json_object_iter((json_t *)(uintptr_t)inputs); it;
         it = json_object_iter_next((json_t *)(uintptr_t)inputs, it)) {
        unknown += !row_reads(row, str_of(json_object_iter_key(it)));
    }
    return unknown;
}

/* The row of the topic that leaves fewest input names unread, among those of the kind or among all. */
static const struct case_kind *best_row(const char *topic, const char *kind, const json_t *inputs)
{
    const struct case_kind *best = NULL;
    size_t least = SIZE_MAX;
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
        if (strcmp(kinds[i].topic, topic) != 0 || (kind && !row_has_kind(&kinds[i], str_of(kind)))) {
            continue;
        }
        size_t unknown = names_unknown(&kinds[i], inputs);
        if (unknown < least) {
            best = &kinds[i];
            least = unknown;
        }
    }
    return kind || least == 0 ? best : NULL;
}

const struct case_kind *case_kind_find(const char *topic, const char *kind, const json_t *inputs)
{
    const struct case_kind *row = best_row(topic, kind, inputs);
    return !row && str_ends(str_of(kind), S("reject")) ? best_row(topic, NULL, inputs) : row;
}

/* ---- running a calculation by its mapping ---- */

/* A number in the mapped unit, in SI. */
static bool to_si(const struct case_in *in, struct str unit, double value, double *si, struct err *e)
{
    bool over = str_starts(unit, S("/"));
    if (over) {
        unit = str_cut(unit, 1, unit.n);
    }
    if (str_starts(unit, S("@"))) {
        const char *named = json_string_value(json_object_get(in->inputs, str_z(in->a, str_cut(unit, 1, unit.n))));
        unit = str_of(named);
    }
    if (unit.n == 0) {
        *si = value;
        return true;
    }
    const struct unit *u = unit_find(unit);
    double same = 0;
    if (!u) {
        return err_set(e, ERR_INPUT, NULL, "unknown unit \"", str_z(e->a, unit), "\"", (char *)0);
    }
    if (over) {
        if (!(value > 0)) {
            return err_set(e, ERR_DOMAIN, "more than 0", "a count per length that is not positive", (char *)0);
        }
        *si = unit_to_si(u, 1) / value;
        return true;
    }
    if (!unit_convert(value, u, u, &same, e)) {
        return false;
    }
    *si = unit_to_si(u, same);
    return true;
}

/* One JSON value to one input; `index` is which item of an array to take for a single number. */
static bool give_value(const struct case_in *in, struct calc_call *call, struct str input, const json_t *value,
                       struct str unit, size_t index, size_t *runs, struct err *e)
{
    const struct calc_field *f = calc_input(call->calc, input);
    if (!f) {
        return err_set(e, ERR_INTERNAL, NULL, "the table names no input of the calculation: ", str_z(e->a, input),
                       (char *)0);
    }
    double si = 0;
    if (json_is_array(value) && f->form == CALC_LIST) {
        size_t n = json_array_size(value);
        double *list = ARENA_ARRAY(in->a, double, n + 1);
        for (size_t i = 0; i < n; i++) {
            const json_t *item = json_array_get(value, i);
            if (!json_is_number(item)) {
                return err_set(e, ERR_INPUT, "a number", f->name, ": an item is no number", (char *)0);
            }
            if (!to_si(in, unit, json_number_value(item), &list[i], e)) {
                return false;
            }
        }
        return calc_give_list(call, input, list, n, e);
    }
    if (json_is_array(value)) {
        *runs = json_array_size(value);
        value = json_array_get(value, index);
    }
    if (f->form == CALC_FLAG && json_is_boolean(value)) {
        return calc_give_flag(call, input, json_is_true(value), e);
    }
    if (f->form == CALC_TEXT && json_is_string(value)) {
        return calc_give_text(call, input, str_of(json_string_value(value)), e);
    }
    if (f->form == CALC_NUMBER && json_is_number(value)) {
        return to_si(in, unit, json_number_value(value), &si, e) && calc_give_number(call, input, si, e);
    }
    return err_set(e, ERR_INPUT, f->meaning, f->name, ": not a value of that sort", (char *)0);
}

/* Gives everything the mapping names and the case has. */
static bool give_all(const struct case_kind *row, const struct case_in *in, struct calc_call *call, size_t index,
                     size_t *runs, struct err *e)
{
    struct str items = str_of(row->inputs);
    struct str item;
    while (str_next(&items, ';', &item)) {
        struct str rest = item;
        struct str input;
        str_next(&rest, '=', &input);
        input = str_trim(input);
        if (str_starts(rest, S("#"))) {
            if (!calc_give(call, input, str_cut(rest, 1, rest.n), e)) {
                return false;
            }
            continue;
        }
        struct str alternative;
        while (str_next(&rest, '|', &alternative)) {
            struct str unit = alternative;
            struct str name;
            str_next(&unit, ':', &name);
            const json_t *value = json_object_get(in->inputs, str_z(in->a, str_trim(name)));
            if (value && !json_is_null(value)) {
                struct str u = str_trim(unit);
                if (!give_value(in, call, input, value, u, index, runs, e)) {
                    return false;
                }
                break;
            }
        }
    }
    return true;
}

/* A result as JSON; null where the calculation did not give it. */
static json_t *result_json(const struct case_in *in, const struct calc_field *f, const struct calc_value *v,
                           struct str unit)
{
    if (str_starts(unit, S("@"))) {
        unit = str_of(json_string_value(json_object_get(in->inputs, str_z(in->a, str_cut(unit, 1, unit.n)))));
    }
    const struct unit *u = f->kind != Q_NONE && unit.n ? unit_find(unit) : NULL;
    if (str_eq(unit, S("why"))) {
        return v->form == CALC_NONE ? json_stringn(v->text.p, v->text.n) : NULL;
    }
    json_t *list = NULL;
    struct str rest = v->text;
    struct str word;
    switch (v->form) {
    case CALC_NUMBER:
        return json_real(u ? unit_from_si(u, v->number) : v->number);
    case CALC_FLAG:
        return json_boolean(v->flag);
    case CALC_NONE:
        return json_null();
    case CALC_LIST:
        list = json_array();
        for (size_t i = 0; i < v->n; i++) {
            json_array_append_new(list, json_real(u ? unit_from_si(u, v->list[i]) : v->list[i]));
        }
        return list;
    case CALC_TEXT:
        if (!str_eq(unit, S("words"))) {
            return json_stringn(v->text.p, v->text.n);
        }
        list = json_array();
        while (str_next(&rest, ',', &word)) {
            word = str_trim(word);
            if (word.n == 0) {
                continue;
            }
            json_array_append_new(list, json_stringn(word.p, word.n));
        }
        return list;
    case CALC_ABSENT:
        break;
    }
    return NULL;
}

/* Sets a result, or appends it to the array of the runs (0 = a single run). */
static void set_result(json_t *got, const char *name, json_t *value, size_t runs)
{
    if (runs == 0) {
        json_object_set_new(got, name, value);
        return;
    }
    json_t *array = json_object_get(got, name);
    if (!array) {
        array = json_array();
        json_object_set_new(got, name, array);
    }
    json_array_append_new(array, value);
}

static bool take_results(const struct case_kind *row, const struct case_in *in, const struct calc_call *call,
                         json_t *got, size_t runs, struct err *e)
{
    struct str items = str_of(row->outputs);
    struct str item;
    while (str_next(&items, ';', &item)) {
        struct str unit = item;
        struct str name;
        struct str output;
        str_next(&unit, '=', &name);
        str_next(&unit, ':', &output);
        const struct calc_field *f = calc_output(call->calc, str_trim(output));
        if (!f) {
            return err_set(e, ERR_INTERNAL, NULL, "the table names no output of the calculation: ", str_z(e->a, output),
                           (char *)0);
        }
        struct str u = str_trim(unit);
        bool plain = u.n == 0 || str_starts(u, S("@")) || str_eq(u, S("why")) || str_eq(u, S("words"));
        if (!plain && !unit_find(u)) {
            return err_set(e, ERR_INTERNAL, NULL, "the table names no unit: ", str_z(e->a, u), (char *)0);
        }
        json_t *value = result_json(in, f, calc_result(call, str_trim(output)), u);
        if (value) {
            set_result(got, str_z(in->a, str_trim(name)), value, runs);
        }
    }
    return true;
}

/* Runs the calculation once, or once for each item of an array given for a single number. */
static bool run_calc(const struct case_kind *row, const struct case_in *in, json_t *got, struct err *e)
{
    const struct calc *calc = calc_find(str_of(row->calc));
    if (!calc) {
        return err_set(e, ERR_INTERNAL, NULL, "the table names no calculation: ", row->calc, (char *)0);
    }
    size_t runs = 0;
    for (size_t i = 0; i == 0 || i < runs; i++) {
        struct calc_call call = calc_call_new(calc, in->a);
        runs = 0;
        if (!give_all(row, in, &call, i, &runs, e) || !calc_run(&call, e) ||
            !take_results(row, in, &call, got, runs, e)) {
            return false;
        }
    }
    return true;
}

bool case_run(const struct case_kind *row, const struct case_in *in, json_t *got, struct err *e)
{
    return row->fn ? row->fn(in, got, e) : run_calc(row, in, got, e);
}
