/* The units of the trade. Factors are exact where their definition is; the source stands in each row.
 *
 * X(symbol, shown, name, kind, factor, offset, decimals, unit in SI, unit in US, aliases, source); the unit in SI or US
 * is null where a reader of that system is content with this one. Rows of one kind stand together.
 */
#include "quantity_internal.h"

#include <assert.h>

/* clang-format off */
#define UNITS(X) \
    X("1", "1", "one", Q_RATIO, 1, 0, 3, "%", "%", "", "by definition") \
    X("%", "%", "per cent", Q_RATIO, 0.01, 0, 1, NULL, NULL, "percent|per cent|pct", "by definition") \
    X("ppm", "ppm", "parts per million", Q_RATIO, 1e-6, 0, 0, NULL, NULL, "mg/kg", "by definition") \
    X("Pa", "Pa", "pascal", Q_PRESSURE, 1, 0, 0, NULL, "inH2O", "N/m2|pascal", "SI Brochure, 9th ed. (2019)") \
    X("hPa", "hPa", "hectopascal", Q_PRESSURE, 100, 0, 1, NULL, "inHg", "", "SI Brochure, 9th ed. (2019)") \
    X("kPa", "kPa", "kilopascal", Q_PRESSURE, 1e3, 0, 1, NULL, "psi", "", "SI Brochure, 9th ed. (2019)") \
    X("MPa", "MPa", "megapascal", Q_PRESSURE, 1e6, 0, 2, NULL, "psi", "N/mm2", "SI Brochure, 9th ed. (2019)") \
    X("mbar", "mbar", "millibar", Q_PRESSURE, 100, 0, 0, NULL, "inH2O", "", "NIST SP 811 (2008) B.8") \
    X("bar", "bar", "bar", Q_PRESSURE, 1e5, 0, 2, NULL, "psi", "bars", "NIST SP 811 (2008) B.8, exact") \
    X("psi", "psi", "pound-force per square inch", Q_PRESSURE, 6894.757293168361, 0, 1, "bar", NULL, "lbf/in2|lb/in2|PSI|psig", "exact: 0.453 592 37 kg x 9.806 65 m/s2 (NIST SP 811 B.8)") \
    X("ksi", "ksi", "kip per square inch", Q_PRESSURE, 6894757.293168361, 0, 2, "MPa", NULL, "", "exact: 0.453 592 37 kg x 9.806 65 m/s2 (NIST SP 811 B.8)") \
    X("lbf/ft2", "lbf/ft²", "pound-force per square foot", Q_PRESSURE, 47.88025898033584, 0, 1, "kPa", NULL, "psf", "exact: 0.453 592 37 kg x 9.806 65 m/s2 (NIST SP 811 B.8)") \
    X("kgf/cm2", "kgf/cm²", "kilogram-force per square centimetre", Q_PRESSURE, 98066.5, 0, 2, "bar", "psi", "kg/cm2|at", "NIST SP 811 (2008) B.8, exact") \
    X("atm", "atm", "standard atmosphere", Q_PRESSURE, 101325, 0, 3, "bar", "psi", "", "NIST SP 811 (2008) B.8, exact") \
    X("Torr", "Torr", "torr", Q_PRESSURE, 133.32236842105263, 0, 0, "hPa", "inHg", "torr", "NIST SP 811 (2008) B.8: 1/760 standard atmosphere") \
    X("mmHg", "mmHg", "millimetre of mercury, conventional", Q_PRESSURE, 133.322387415, 0, 0, "hPa", "inHg", "mmHg (conventional)", "NIST SP 811 (2008) B.8") \
    X("inHg", "inHg", "inch of mercury, conventional", Q_PRESSURE, 3386.388640341, 0, 2, "kPa", NULL, "inHg (conventional)|in Hg|\"Hg", "NIST SP 811 (2008) B.8: 25.4 mmHg, conventional") \
    X("inHg (32 degF)", "inHg (32 °F)", "inch of mercury at 32 °F", Q_PRESSURE, 3386.38, 0, 2, "kPa", NULL, "inHg (0 degC)", "NIST SP 811 (2008) B.8") \
    X("inHg (60 degF)", "inHg (60 °F)", "inch of mercury at 60 °F", Q_PRESSURE, 3376.85, 0, 2, "kPa", NULL, "", "NIST SP 811 (2008) B.8") \
    X("mmH2O", "mmH₂O", "millimetre of water, conventional", Q_PRESSURE, 9.80665, 0, 0, "Pa", "inH2O", "mmH2O (conventional)", "NIST SP 811 (2008) B.8") \
    X("cmH2O", "cmH₂O", "centimetre of water, conventional", Q_PRESSURE, 98.0665, 0, 1, "kPa", "inH2O", "cmH2O (conventional)", "NIST SP 811 (2008) B.8") \
    X("inH2O", "inH₂O", "inch of water, conventional", Q_PRESSURE, 249.08891, 0, 1, "kPa", NULL, "inH2O (conventional)|in H2O|inWC|inwc|in wc|\"H2O", "NIST SP 811 (2008) B.8: 25.4 mmH2O, conventional") \
    X("inH2O (39.2 degF)", "inH₂O (39.2 °F)", "inch of water at 39.2 °F", Q_PRESSURE, 249.082, 0, 1, "kPa", NULL, "inH2O (4 degC)", "NIST SP 811 (2008) B.8") \
    X("inH2O (60 degF)", "inH₂O (60 °F)", "inch of water at 60 °F", Q_PRESSURE, 248.84, 0, 1, "kPa", NULL, "", "NIST SP 811 (2008) B.8") \
    X("ftH2O", "ftH₂O", "foot of water, conventional", Q_PRESSURE, 2989.06692, 0, 1, "kPa", NULL, "ftH2O (conventional)", "NIST SP 811 (2008) B.8") \
    X("K", "K", "kelvin", Q_TEMPERATURE, 1, 0, 1, "degC", "degF", "kelvin", "SI Brochure, 9th ed. (2019)") \
    X("degC", "°C", "degree Celsius", Q_TEMPERATURE, 1, 273.15, 1, NULL, "degF", "deg C|celsius|Celsius", "SI Brochure, 9th ed. (2019)") \
    X("degF", "°F", "degree Fahrenheit", Q_TEMPERATURE, 5.0 / 9.0, 459.67 * 5.0 / 9.0, 1, "degC", NULL, "deg F|fahrenheit|Fahrenheit", "NIST SP 811 (2008) B.8: T/K = (t/degF + 459.67)/1.8") \
    X("degR", "°R", "degree Rankine", Q_TEMPERATURE, 5.0 / 9.0, 0, 1, "degC", "degF", "deg R", "NIST SP 811 (2008) B.8: T/K = (T/degR)/1.8") \
    X("delta K", "ΔK", "kelvin, of a difference", Q_TEMPERATURE_DIFFERENCE, 1, 0, 1, NULL, "delta degF", "deltaK", "SI Brochure, 9th ed. (2019)") \
    X("delta degC", "Δ°C", "degree Celsius, of a difference", Q_TEMPERATURE_DIFFERENCE, 1, 0, 1, NULL, "delta degF", "", "SI Brochure, 9th ed. (2019)") \
    X("delta degF", "Δ°F", "degree Fahrenheit, of a difference", Q_TEMPERATURE_DIFFERENCE, 5.0 / 9.0, 0, 1, "delta K", NULL, "", "NIST SP 811 (2008) B.8: 1 degF = 5/9 K as an interval") \
    X("delta degR", "Δ°R", "degree Rankine, of a difference", Q_TEMPERATURE_DIFFERENCE, 5.0 / 9.0, 0, 1, "delta K", "delta degF", "", "NIST SP 811 (2008) B.8: 1 degF = 5/9 K as an interval") \
    X("um", "µm", "micrometre", Q_LENGTH, 1e-6, 0, 1, NULL, "mil", "micron|microns", "SI Brochure, 9th ed. (2019)") \
    X("mm", "mm", "millimetre", Q_LENGTH, 1e-3, 0, 1, NULL, "in", "", "SI Brochure, 9th ed. (2019)") \
    X("cm", "cm", "centimetre", Q_LENGTH, 1e-2, 0, 1, NULL, "in", "", "SI Brochure, 9th ed. (2019)") \
    X("m", "m", "metre", Q_LENGTH, 1, 0, 2, NULL, "ft", "metre|metres|meter|meters", "SI Brochure, 9th ed. (2019)") \
    X("km", "km", "kilometre", Q_LENGTH, 1e3, 0, 1, NULL, "mi", "", "SI Brochure, 9th ed. (2019)") \
    X("mil", "mil", "thousandth of an inch", Q_LENGTH, 2.54e-5, 0, 1, "um", NULL, "thou", "NIST SP 811 (2008) B.8, exact") \
    X("in", "in", "inch", Q_LENGTH, 0.0254, 0, 3, "mm", NULL, "inch|inches|\"", "NIST SP 811 (2008) B.8, exact") \
    X("ft", "ft", "foot", Q_LENGTH, 0.3048, 0, 2, "m", NULL, "foot|feet", "NIST SP 811 (2008) B.8, exact") \
    X("yd", "yd", "yard", Q_LENGTH, 0.9144, 0, 2, "m", "ft", "yard|yards", "NIST SP 811 (2008) B.8, exact") \
    X("mi", "mi", "mile", Q_LENGTH, 1609.344, 0, 1, "km", NULL, "mile|miles", "NIST SP 811 (2008) B.8, exact") \
    X("mm2", "mm²", "square millimetre", Q_AREA, 1e-6, 0, 1, NULL, "in2", "sq mm", "SI Brochure, 9th ed. (2019)") \
    X("cm2", "cm²", "square centimetre", Q_AREA, 1e-4, 0, 1, NULL, "in2", "sq cm", "SI Brochure, 9th ed. (2019)") \
    X("m2", "m²", "square metre", Q_AREA, 1, 0, 2, NULL, "ft2", "sq m", "SI Brochure, 9th ed. (2019)") \
    X("ha", "ha", "hectare", Q_AREA, 1e4, 0, 2, NULL, "acre", "hectare|hectares", "NIST SP 811 (2008) B.8, exact") \
    X("in2", "in²", "square inch", Q_AREA, 6.4516e-4, 0, 4, "mm2", NULL, "sq in", "NIST SP 811 (2008) B.8, exact") \
    X("ft2", "ft²", "square foot", Q_AREA, 0.09290304, 0, 2, "m2", NULL, "sq ft", "NIST SP 811 (2008) B.8, exact") \
    X("acre", "acre", "acre of 43 560 square feet", Q_AREA, 4046.8564224, 0, 2, "ha", NULL, "acres", "exact: 43 560 international square feet") \
    X("mL", "mL", "millilitre", Q_VOLUME, 1e-6, 0, 0, NULL, "US fl oz", "ml|cc", "SI Brochure, 9th ed. (2019)") \
    X("cm3", "cm³", "cubic centimetre", Q_VOLUME, 1e-6, 0, 1, NULL, "in3", "", "SI Brochure, 9th ed. (2019)") \
    X("L", "L", "litre", Q_VOLUME, 1e-3, 0, 2, NULL, "US gal", "l|litre|litres|liter|liters|dm3", "SI Brochure, 9th ed. (2019)") \
    X("m3", "m³", "cubic metre", Q_VOLUME, 1, 0, 3, NULL, "ft3", "", "SI Brochure, 9th ed. (2019)") \
    X("in3", "in³", "cubic inch", Q_VOLUME, 1.6387064e-5, 0, 2, "cm3", NULL, "cu in", "NIST SP 811 (2008) B.8, exact") \
    X("ft3", "ft³", "cubic foot", Q_VOLUME, 0.028316846592, 0, 2, "m3", NULL, "cu ft", "NIST SP 811 (2008) B.8, exact") \
    X("US fl oz", "US fl oz", "US fluid ounce", Q_VOLUME, 2.95735295625e-5, 0, 1, "mL", NULL, "US floz|US fluid ounce", "exact: 1/128 US gal") \
    X("US pt", "US pt", "US liquid pint", Q_VOLUME, 4.73176473e-4, 0, 2, "L", NULL, "US pint", "exact: 1/8 US gal") \
    X("US qt", "US qt", "US liquid quart", Q_VOLUME, 9.46352946e-4, 0, 2, "L", NULL, "US quart|qt (US)", "exact: 57.75 cubic inches (NIST SP 811 B.8)") \
    X("US gal", "US gal", "US gallon", Q_VOLUME, 3.785411784e-3, 0, 2, "L", NULL, "US gallon|US gallons|gal (US)", "exact: 231 cubic inches (NIST SP 811 B.8)") \
    X("imp fl oz", "imp fl oz", "imperial fluid ounce", Q_VOLUME, 2.84130625e-5, 0, 1, "mL", "US fl oz", "imp floz|UK fl oz", "exact: 1/160 imp gal") \
    X("imp pt", "imp pt", "imperial pint", Q_VOLUME, 5.6826125e-4, 0, 2, "L", "US pt", "imp pint|UK pt", "exact: 1/8 imp gal") \
    X("imp qt", "imp qt", "imperial quart", Q_VOLUME, 1.1365225e-3, 0, 2, "L", "US qt", "imp quart|UK qt", "exact: 1/4 imp gal") \
    X("imp gal", "imp gal", "imperial gallon", Q_VOLUME, 4.54609e-3, 0, 2, "L", "US gal", "imp gallon|imp gallons|UK gal|imperial gallon|gal (imp)|gal (UK)", "NIST SP 811 (2008) B.8, exact") \
    X("mg", "mg", "milligram", Q_MASS, 1e-6, 0, 1, NULL, NULL, "", "SI Brochure, 9th ed. (2019)") \
    X("g", "g", "gram", Q_MASS, 1e-3, 0, 1, NULL, "oz", "gram|grams", "SI Brochure, 9th ed. (2019)") \
    X("kg", "kg", "kilogram", Q_MASS, 1, 0, 2, NULL, "lb", "kilogram|kilograms", "SI Brochure, 9th ed. (2019)") \
    X("t", "t", "tonne", Q_MASS, 1e3, 0, 2, NULL, "lb", "tonne|tonnes|metric ton", "SI Brochure, 9th ed. (2019)") \
    X("oz", "oz", "ounce, avoirdupois", Q_MASS, 0.028349523125, 0, 2, "g", NULL, "ounce|ounces", "NIST SP 811 (2008) B.8, exact") \
    X("lb", "lb", "pound, avoirdupois", Q_MASS, 0.45359237, 0, 2, "kg", NULL, "lbs|pound|pounds|lbm", "NIST SP 811 (2008) B.8, exact") \
    X("short ton", "short ton", "ton of 2000 lb", Q_MASS, 907.18474, 0, 3, "t", NULL, "US ton", "exact: 2000 lb") \
    X("long ton", "long ton", "ton of 2240 lb", Q_MASS, 1016.0469088, 0, 3, "t", "lb", "imp ton", "exact: 2240 lb") \
    X("g/L", "g/L", "gram per litre", Q_DENSITY, 1, 0, 1, NULL, NULL, "g/l", "SI Brochure, 9th ed. (2019)") \
    X("kg/m3", "kg/m³", "kilogram per cubic metre", Q_DENSITY, 1, 0, 0, NULL, "lb/US gal", "", "SI Brochure, 9th ed. (2019)") \
    X("kg/L", "kg/L", "kilogram per litre", Q_DENSITY, 1e3, 0, 3, NULL, "lb/US gal", "kg/l|kg/dm3", "SI Brochure, 9th ed. (2019)") \
    X("g/cm3", "g/cm³", "gram per cubic centimetre", Q_DENSITY, 1e3, 0, 3, NULL, "lb/US gal", "g/mL|g/ml", "SI Brochure, 9th ed. (2019)") \
    X("lb/ft3", "lb/ft³", "pound per cubic foot", Q_DENSITY, 16.018463373960142, 0, 1, "kg/m3", NULL, "", "exact: 0.453 592 37 kg per 0.028 316 846 592 m3") \
    X("lb/US gal", "lb/US gal", "pound per US gallon", Q_DENSITY, 119.82642731689663, 0, 2, "kg/L", NULL, "", "exact: 0.453 592 37 kg per 3.785 411 784 L") \
    X("ms", "ms", "millisecond", Q_DURATION, 1e-3, 0, 0, NULL, NULL, "", "SI Brochure, 9th ed. (2019)") \
    X("s", "s", "second", Q_DURATION, 1, 0, 1, NULL, NULL, "sec|second|seconds", "SI Brochure, 9th ed. (2019)") \
    X("min", "min", "minute", Q_DURATION, 60, 0, 1, NULL, NULL, "minute|minutes|mins", "SI Brochure, 9th ed. (2019)") \
    X("h", "h", "hour", Q_DURATION, 3600, 0, 1, NULL, NULL, "hr|hrs|hour|hours", "SI Brochure, 9th ed. (2019)") \
    X("d", "d", "day of 24 hours", Q_DURATION, 86400, 0, 1, NULL, NULL, "day|days", "SI Brochure, 9th ed. (2019)") \
    X("week", "week", "week of 7 days", Q_DURATION, 604800, 0, 1, NULL, NULL, "weeks|wk", "by definition") \
    X("rad", "rad", "radian", Q_ANGLE, 1, 0, 3, "deg", "deg", "radian|radians", "SI Brochure, 9th ed. (2019)") \
    X("deg", "°", "degree of angle", Q_ANGLE, 0.017453292519943295, 0, 1, NULL, NULL, "degree|degrees", "exact: pi/180 rad") \
    X("turn", "turn", "turn of a screw", Q_ANGLE, 6.283185307179586, 0, 2, NULL, NULL, "turns|rev|revolution|revolutions", "exact: 2 pi rad") \
    X("N", "N", "newton", Q_FORCE, 1, 0, 0, NULL, "lbf", "newton|newtons", "SI Brochure, 9th ed. (2019)") \
    X("daN", "daN", "decanewton", Q_FORCE, 10, 0, 1, NULL, "lbf", "", "SI Brochure, 9th ed. (2019)") \
    X("kN", "kN", "kilonewton", Q_FORCE, 1e3, 0, 2, NULL, "lbf", "", "SI Brochure, 9th ed. (2019)") \
    X("ozf", "ozf", "ounce-force", Q_FORCE, 0.27801385095378125, 0, 1, "N", NULL, "", "exact: 0.453 592 37 kg x 9.806 65 m/s2 (NIST SP 811 B.8)") \
    X("lbf", "lbf", "pound-force", Q_FORCE, 4.4482216152605, 0, 1, "N", NULL, "", "exact: 0.453 592 37 kg x 9.806 65 m/s2 (NIST SP 811 B.8)") \
    X("kgf", "kgf", "kilogram-force", Q_FORCE, 9.80665, 0, 1, "N", "lbf", "kp", "NIST SP 811 (2008) B.8, exact") \
    X("N.m", "N·m", "newton metre", Q_TORQUE, 1, 0, 1, NULL, "lbf.ft", "Nm|N m|N*m|N-m", "SI Brochure, 9th ed. (2019)") \
    X("N.cm", "N·cm", "newton centimetre", Q_TORQUE, 1e-2, 0, 0, NULL, "lbf.in", "Ncm", "SI Brochure, 9th ed. (2019)") \
    X("daN.m", "daN·m", "decanewton metre", Q_TORQUE, 10, 0, 2, NULL, "lbf.ft", "daNm", "SI Brochure, 9th ed. (2019)") \
    X("kN.m", "kN·m", "kilonewton metre", Q_TORQUE, 1e3, 0, 2, NULL, "lbf.ft", "kNm", "SI Brochure, 9th ed. (2019)") \
    X("ozf.in", "ozf·in", "ounce-force inch", Q_TORQUE, 7.061551814226043e-3, 0, 1, "N.cm", NULL, "oz.in|ozf in", "exact: 0.453 592 37 kg x 9.806 65 m/s2 (NIST SP 811 B.8)") \
    X("lbf.in", "lbf·in", "pound-force inch", Q_TORQUE, 0.1129848290276167, 0, 0, "N.m", NULL, "lb.in|in.lb|in.lbf|lb-in|in-lb|lbf in|lbf-in|in-lbf", "exact: 0.453 592 37 kg x 9.806 65 m/s2 (NIST SP 811 B.8)") \
    X("lbf.ft", "lbf·ft", "pound-force foot", Q_TORQUE, 1.3558179483314004, 0, 1, "N.m", NULL, "lb.ft|ft.lb|ft.lbf|lb-ft|ft-lb|lbf ft|lbf-ft|ft-lbf", "exact: 0.453 592 37 kg x 9.806 65 m/s2 (NIST SP 811 B.8)") \
    X("kgf.cm", "kgf·cm", "kilogram-force centimetre", Q_TORQUE, 0.0980665, 0, 1, "N.m", "lbf.in", "kg.cm", "NIST SP 811 (2008) B.8, exact") \
    X("kgf.m", "kgf·m", "kilogram-force metre", Q_TORQUE, 9.80665, 0, 2, "N.m", "lbf.ft", "kg.m|kpm|mkp", "NIST SP 811 (2008) B.8, exact") \
    X("J", "J", "joule", Q_ENERGY, 1, 0, 0, NULL, NULL, "joule|joules", "SI Brochure, 9th ed. (2019)") \
    X("kJ", "kJ", "kilojoule", Q_ENERGY, 1e3, 0, 1, NULL, "Btu", "", "SI Brochure, 9th ed. (2019)") \
    X("MJ", "MJ", "megajoule", Q_ENERGY, 1e6, 0, 2, NULL, "Btu", "", "SI Brochure, 9th ed. (2019)") \
    X("Wh", "Wh", "watt hour", Q_ENERGY, 3600, 0, 1, NULL, NULL, "W.h", "SI Brochure, 9th ed. (2019)") \
    X("kWh", "kWh", "kilowatt hour", Q_ENERGY, 3.6e6, 0, 2, NULL, NULL, "kW.h", "SI Brochure, 9th ed. (2019)") \
    X("Btu", "Btu", "British thermal unit, international table", Q_ENERGY, 1055.05585262, 0, 0, "kJ", NULL, "BTU", "NIST SP 811 (2008) B.8") \
    X("W", "W", "watt", Q_POWER, 1, 0, 0, NULL, NULL, "watt|watts", "SI Brochure, 9th ed. (2019)") \
    X("kW", "kW", "kilowatt", Q_POWER, 1e3, 0, 2, NULL, "hp", "", "SI Brochure, 9th ed. (2019)") \
    X("hp", "hp", "horsepower of 550 foot pound-force a second", Q_POWER, 745.6998715822702, 0, 2, "kW", NULL, "bhp|hp (mechanical)|hp (550 ft.lbf/s)", "exact: 550 ft.lbf/s (NIST SP 811 B.8)") \
    X("Btu/h", "Btu/h", "British thermal unit per hour", Q_POWER, 1055.05585262 / 3600.0, 0, 0, "W", NULL, "BTU/h", "NIST SP 811 (2008) B.8") \
    X("PS", "PS", "metric horsepower of 75 kgf.m a second", Q_POWER, 735.49875, 0, 2, "kW", "hp", "hp (metric)|metric hp|cv|ch", "NIST SP 811 (2008) B.8, exact") \
    X("mm/s", "mm/s", "millimetre per second", Q_SPEED, 1e-3, 0, 1, NULL, "ft/min", "", "SI Brochure, 9th ed. (2019)") \
    X("m/s", "m/s", "metre per second", Q_SPEED, 1, 0, 2, NULL, "ft/s", "", "SI Brochure, 9th ed. (2019)") \
    X("m/min", "m/min", "metre per minute", Q_SPEED, 1.0 / 60.0, 0, 1, NULL, "ft/min", "", "SI Brochure, 9th ed. (2019)") \
    X("km/h", "km/h", "kilometre per hour", Q_SPEED, 1.0 / 3.6, 0, 1, NULL, "mph", "kmh|kph|km/hr", "SI Brochure, 9th ed. (2019)") \
    X("ft/min", "ft/min", "foot per minute", Q_SPEED, 5.08e-3, 0, 0, "m/min", NULL, "fpm", "NIST SP 811 (2008) B.8, exact") \
    X("ft/s", "ft/s", "foot per second", Q_SPEED, 0.3048, 0, 2, "m/s", NULL, "fps", "NIST SP 811 (2008) B.8, exact") \
    X("mph", "mph", "mile per hour", Q_SPEED, 0.44704, 0, 1, "km/h", NULL, "mi/h|mile/h", "NIST SP 811 (2008) B.8, exact") \
    X("kn", "kn", "knot", Q_SPEED, 1852.0 / 3600.0, 0, 1, "km/h", "mph", "knot|knots", "NIST SP 811 (2008) B.8, exact") \
    X("rad/s", "rad/s", "radian per second", Q_ROTATION, 1, 0, 2, "rpm", "rpm", "", "SI Brochure, 9th ed. (2019)") \
    X("rpm", "1/min", "revolution per minute", Q_ROTATION, 0.10471975511965977, 0, 0, NULL, NULL, "1/min|r/min|rev/min|min-1|/min", "exact: 2 pi/60 rad/s") \
    X("Hz", "Hz", "hertz", Q_FREQUENCY, 1, 0, 1, NULL, NULL, "1/s|hertz", "SI Brochure, 9th ed. (2019)") \
    X("kHz", "kHz", "kilohertz", Q_FREQUENCY, 1e3, 0, 2, NULL, NULL, "", "SI Brochure, 9th ed. (2019)") \
    X("mL/min", "mL/min", "millilitre per minute", Q_FLOW, 1e-6 / 60.0, 0, 0, NULL, NULL, "ml/min|cm3/min|cc/min", "SI Brochure, 9th ed. (2019)") \
    X("L/h", "L/h", "litre per hour", Q_FLOW, 1e-3 / 3600.0, 0, 2, NULL, "US gal/h", "l/h", "SI Brochure, 9th ed. (2019)") \
    X("L/min", "L/min", "litre per minute", Q_FLOW, 1e-3 / 60.0, 0, 1, NULL, "US gal/min", "l/min|lpm|LPM", "SI Brochure, 9th ed. (2019)") \
    X("L/s", "L/s", "litre per second", Q_FLOW, 1e-3, 0, 2, NULL, "US gal/min", "l/s", "SI Brochure, 9th ed. (2019)") \
    X("m3/h", "m³/h", "cubic metre per hour", Q_FLOW, 1.0 / 3600.0, 0, 2, NULL, "ft3/min", "/h", "SI Brochure, 9th ed. (2019)") \
    X("m3/s", "m³/s", "cubic metre per second", Q_FLOW, 1, 0, 6, NULL, "ft3/min", "/s", "SI Brochure, 9th ed. (2019)") \
    X("US gal/h", "US gal/h", "US gallon per hour", Q_FLOW, 3.785411784e-3 / 3600.0, 0, 2, "L/h", NULL, "US gph", "exact: 231 cubic inches") \
    X("US gal/min", "US gal/min", "US gallon per minute", Q_FLOW, 3.785411784e-3 / 60.0, 0, 1, "L/min", NULL, "US gpm|USgpm", "exact: 231 cubic inches") \
    X("imp gal/min", "imp gal/min", "imperial gallon per minute", Q_FLOW, 4.54609e-3 / 60.0, 0, 1, "L/min", "US gal/min", "imp gpm", "NIST SP 811 (2008) B.8, exact") \
    X("ft3/min", "ft³/min", "cubic foot per minute", Q_FLOW, 0.028316846592 / 60.0, 0, 1, "m3/h", NULL, "cfm|CFM", "NIST SP 811 (2008) B.8, exact") \
    X("in3/min", "in³/min", "cubic inch per minute", Q_FLOW, 1.6387064e-5 / 60.0, 0, 1, "mL/min", NULL, "/min", "NIST SP 811 (2008) B.8, exact") \
    X("cm3/rev", "cm³/rev", "cubic centimetre per revolution", Q_VOLUME_PER_REV, 1e-6, 0, 1, NULL, "in3/rev", "cc/rev|mL/rev", "SI Brochure, 9th ed. (2019)") \
    X("L/rev", "L/rev", "litre per revolution", Q_VOLUME_PER_REV, 1e-3, 0, 3, NULL, "in3/rev", "l/rev", "SI Brochure, 9th ed. (2019)") \
    X("m3/rev", "m³/rev", "cubic metre per revolution", Q_VOLUME_PER_REV, 1, 0, 9, "cm3/rev", "in3/rev", "/rev", "SI Brochure, 9th ed. (2019)") \
    X("in3/rev", "in³/rev", "cubic inch per revolution", Q_VOLUME_PER_REV, 1.6387064e-5, 0, 2, "cm3/rev", NULL, "/rev|cu in/rev", "NIST SP 811 (2008) B.8, exact") \
    X("mV", "mV", "millivolt", Q_VOLTAGE, 1e-3, 0, 0, NULL, NULL, "", "SI Brochure, 9th ed. (2019)") \
    X("V", "V", "volt", Q_VOLTAGE, 1, 0, 2, NULL, NULL, "volt|volts", "SI Brochure, 9th ed. (2019)") \
    X("kV", "kV", "kilovolt", Q_VOLTAGE, 1e3, 0, 2, NULL, NULL, "", "SI Brochure, 9th ed. (2019)") \
    X("mA", "mA", "milliampere", Q_CURRENT, 1e-3, 0, 0, NULL, NULL, "", "SI Brochure, 9th ed. (2019)") \
    X("A", "A", "ampere", Q_CURRENT, 1, 0, 1, NULL, NULL, "amp|amps|ampere|amperes", "SI Brochure, 9th ed. (2019)") \
    X("mohm", "mΩ", "milliohm", Q_RESISTANCE, 1e-3, 0, 1, NULL, NULL, "milliohm", "SI Brochure, 9th ed. (2019)") \
    X("ohm", "Ω", "ohm", Q_RESISTANCE, 1, 0, 2, NULL, NULL, "ohms|Ohm", "SI Brochure, 9th ed. (2019)") \
    X("kohm", "kΩ", "kilohm", Q_RESISTANCE, 1e3, 0, 2, NULL, NULL, "", "SI Brochure, 9th ed. (2019)") \
    X("C", "C", "coulomb", Q_CHARGE, 1, 0, 0, "Ah", "Ah", "A.s|coulomb|coulombs", "SI Brochure, 9th ed. (2019)") \
    X("mAh", "mAh", "milliampere hour", Q_CHARGE, 3.6, 0, 0, NULL, NULL, "mA.h", "NIST SP 811 (2008) B.8, exact") \
    X("Ah", "Ah", "ampere hour", Q_CHARGE, 3600, 0, 1, NULL, NULL, "A.h|AH", "NIST SP 811 (2008) B.8, exact") \
    X("mm2/s", "mm²/s", "square millimetre per second", Q_KINEMATIC_VISCOSITY, 1e-6, 0, 2, NULL, NULL, "", "SI Brochure, 9th ed. (2019)") \
    X("cSt", "cSt", "centistokes", Q_KINEMATIC_VISCOSITY, 1e-6, 0, 2, NULL, NULL, "cst|CST", "NIST SP 811 (2008) B.8, exact") \
    X("St", "St", "stokes", Q_KINEMATIC_VISCOSITY, 1e-4, 0, 3, "mm2/s", "mm2/s", "", "NIST SP 811 (2008) B.8, exact") \
    X("m2/s", "m²/s", "square metre per second", Q_KINEMATIC_VISCOSITY, 1, 0, 9, "mm2/s", "mm2/s", "/s", "SI Brochure, 9th ed. (2019)") \
    X("in2/s", "in²/s", "square inch per second", Q_KINEMATIC_VISCOSITY, 6.4516e-4, 0, 4, "mm2/s", "mm2/s", "", "NIST SP 811 (2008) B.8, exact") \
    X("ft2/s", "ft²/s", "square foot per second", Q_KINEMATIC_VISCOSITY, 0.09290304, 0, 6, "mm2/s", "mm2/s", "", "NIST SP 811 (2008) B.8, exact") \
    X("mPa.s", "mPa·s", "millipascal second", Q_DYNAMIC_VISCOSITY, 1e-3, 0, 2, NULL, NULL, "mPas|mPa s", "SI Brochure, 9th ed. (2019)") \
    X("cP", "cP", "centipoise", Q_DYNAMIC_VISCOSITY, 1e-3, 0, 2, NULL, NULL, "cp", "NIST SP 811 (2008) B.8, exact") \
    X("P", "P", "poise", Q_DYNAMIC_VISCOSITY, 0.1, 0, 3, "mPa.s", "mPa.s", "poise", "NIST SP 811 (2008) B.8, exact") \
    X("Pa.s", "Pa·s", "pascal second", Q_DYNAMIC_VISCOSITY, 1, 0, 5, "mPa.s", "mPa.s", "Pas|Pa s", "SI Brochure, 9th ed. (2019)") \
    X("N/m", "N/m", "newton per metre", Q_STIFFNESS, 1, 0, 0, "N/mm", "lbf/in", "", "SI Brochure, 9th ed. (2019)") \
    X("N/mm", "N/mm", "newton per millimetre", Q_STIFFNESS, 1e3, 0, 1, NULL, "lbf/in", "", "SI Brochure, 9th ed. (2019)") \
    X("kN/mm", "kN/mm", "kilonewton per millimetre", Q_STIFFNESS, 1e6, 0, 2, NULL, "lbf/in", "", "SI Brochure, 9th ed. (2019)") \
    X("lbf/in", "lbf/in", "pound-force per inch", Q_STIFFNESS, 175.12683524647636, 0, 0, "N/mm", NULL, "lb/in", "exact: 4.448 221 615 260 5 N per 0.0254 m")

/* clang-format on */

static const struct unit units[] = {
#define X(symbol, shown, name, kind, factor, offset, decimals, si, us, aliases, source) \
    {symbol, shown, name, kind, factor, offset, source},
    UNITS(X)
#undef X
};

static const struct unit_manner manners[] = {
#define X(symbol, shown, name, kind, factor, offset, decimals, si, us, aliases, source) {aliases, decimals, si, us},
    UNITS(X)
#undef X
};

#define UNIT_COUNT (sizeof units / sizeof *units)

const struct unit *unit_all(size_t *n)
{
    *n = UNIT_COUNT;
    return units;
}

const struct unit_manner *unit_manner_of(const struct unit *u)
{
    assert(u >= units && u < units + UNIT_COUNT);
    return &manners[u - units];
}

const char *quantity_kind_text(enum quantity_kind kind)
{
    static const char *const words[] = {
#define X(symbol, word, si) [symbol] = word,
        QUANTITY_KINDS(X)
#undef X
    };
    return words[kind];
}

/* Typographic characters and what a plain keyboard writes for them. */
static const struct {
    const char *fancy, *plain;
} typography[] = {
    {"\u00b7", "."},                                             /* middle dot */
    {"\u22c5", "."},                                             /* dot operator */
    {"\u00b2", "2"},                                             /* superscript two */
    {"\u00b3", "3"},                                             /* superscript three */
    {"\u2082", "2"},                                             /* subscript two */
    {"\u00b5", "u"},                                             /* micro sign */
    {"\u03bc", "u"},                                             /* Greek mu */
    {"\u00b0", "deg"},                                           /* degree sign */
    {"\u00ba", "deg"},                                           /* ordinal sign, often typed for it */
    {"\u2103", "degC"},   {"\u2109", "degF"}, {"\u2126", "ohm"}, /* ohm sign */
    {"\u03a9", "ohm"},                                           /* Greek omega */
    {"\u0394", "delta "}, {"^", ""},
};

/* A unit spelling in plain characters, in a buffer of fixed size; longer text is no unit. */
struct plain {
    char at[48];
    size_t n;
};

/* Writes the spelling with plain characters and single blanks; false when it does not fit. */
static bool make_plain(struct str s, struct plain *out)
{
    out->n = 0;
    s = str_trim(s);
    while (s.n > 0) {
        struct str piece = str_cut(s, 0, 1);
        size_t taken = 1;
        for (size_t i = 0; i < sizeof typography / sizeof *typography; i++) {
            struct str fancy = str_of(typography[i].fancy);
            if (str_starts(s, fancy)) {
                piece = str_of(typography[i].plain);
                taken = fancy.n;
                break;
            }
        }
        s = str_cut(s, taken, s.n);
        if (piece.n == 1 && piece.p[0] == ' ' && (out->n == 0 || out->at[out->n - 1] == ' ')) {
            continue;
        }
        if (out->n + piece.n > sizeof out->at) {
            return false;
        }
        for (size_t i = 0; i < piece.n; i++) {
            out->at[out->n++] = piece.p[i];
        }
    }
    return true;
}

/* Calls on each spelling of a unit would need a callback; this walks them instead: the symbol first, then the aliases.
 */
struct spellings {
    struct str rest;
    bool started;
    const struct unit *unit;
};

static bool next_spelling(struct spellings *walk, struct str *spelling)
{
    if (!walk->started) {
        walk->started = true;
        walk->rest = str_of(unit_manner_of(walk->unit)->aliases);
        *spelling = str_of(walk->unit->symbol);
        return true;
    }
    return walk->rest.n > 0 && str_next(&walk->rest, '|', spelling);
}

const struct unit *unit_find(struct str symbol)
{
    struct plain plain;
    if (!make_plain(symbol, &plain) || plain.n == 0) {
        return NULL;
    }
    struct str wanted = {plain.at, plain.n};
    for (size_t i = 0; i < UNIT_COUNT; i++) {
        struct spellings walk = {.unit = &units[i]};
        struct str spelling;
        while (next_spelling(&walk, &spelling)) {
            if (str_eq(spelling, wanted)) {
                return &units[i];
            }
        }
    }
    return NULL;
}

/* Upper and lower case confused comes first; else the spelling with the fewest wrong letters, at most a third of them.
 * One letter alone is too little to guess from. */
const struct unit *unit_nearest(struct str symbol)
{
    struct plain plain;
    if (!make_plain(symbol, &plain) || plain.n == 0) {
        return NULL;
    }
    struct str wanted = {plain.at, plain.n};
    const struct unit *best = NULL;
    size_t limit = wanted.n / 3 + (wanted.n > 2);
    for (size_t i = 0; i < UNIT_COUNT; i++) {
        struct spellings walk = {.unit = &units[i]};
        struct str spelling;
        while (next_spelling(&walk, &spelling)) {
            if (str_eq_nocase(spelling, wanted)) {
                return &units[i];
            }
            size_t distance = str_distance(wanted, spelling, limit);
            if (distance <= limit && (distance < limit || best == NULL)) {
                best = &units[i];
                limit = distance;
            }
        }
    }
    return best;
}

const char *unit_ambiguity(struct str symbol)
{
    static const struct {
        const char *word, *choice;
    } rows[] = {
        {"gal", "US gal or imp gal"},
        {"gallon", "US gal or imp gal"},
        {"gallons", "US gal or imp gal"},
        {"qt", "US qt or imp qt"},
        {"quart", "US qt or imp qt"},
        {"quarts", "US qt or imp qt"},
        {"pt", "US pt or imp pt"},
        {"pint", "US pt or imp pt"},
        {"pints", "US pt or imp pt"},
        {"fl oz", "US fl oz or imp fl oz"},
        {"floz", "US fl oz or imp fl oz"},
        {"gpm", "US gal/min or imp gal/min"},
        {"gal/min", "US gal/min or imp gal/min"},
        {"gph", "US gal/h"},
        {"ton", "t (1000 kg), short ton (2000 lb) or long ton (2240 lb)"},
        {"tons", "t (1000 kg), short ton (2000 lb) or long ton (2240 lb)"},
        {"F", "degF"},
    };
    symbol = str_trim(symbol);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        if (str_eq(symbol, str_of(rows[i].word))) {
            return rows[i].choice;
        }
    }
    return NULL;
}
