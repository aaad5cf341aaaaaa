// Inks and rolls to choose from: those of the cases that come with the library, and an invented thin one of constant viscosity.
"use strict";

const choices = (() => {
  const water = { density: "1100 kg/m3", temperature: "25 degC", reference_temperature: "25 degC", andrade_constant: "2000 K",
    thermal_conductivity: "0.45 W/(m K)", heat_capacity: "3400 J/(kg K)" };
  const inks = {
    water: { name: "Water ink, carton", ink: { rheology: { law: "cross", zero_shear_viscosity: "120 mPa s",
      infinite_shear_viscosity: "30 mPa s", time_constant: "1 ms", exponent: 0.7 }, ...water } },
    coarse: { name: "Water ink, corrugated", ink: { rheology: { law: "cross", zero_shear_viscosity: "200 mPa s",
      infinite_shear_viscosity: "35 mPa s", time_constant: "2 ms", exponent: 0.7 }, ...water, density: "1120 kg/m3",
    temperature: "24 degC" } },
    curing: { name: "Energy-curing ink", ink: { rheology: { law: "cross", zero_shear_viscosity: "1.0 Pa s",
      infinite_shear_viscosity: "0.35 Pa s", time_constant: "0.5 ms", exponent: 0.6 }, density: "1080 kg/m3",
    temperature: "30 degC", reference_temperature: "25 degC", andrade_constant: "4500 K",
    thermal_conductivity: "0.2 W/(m K)", heat_capacity: "1900 J/(kg K)" } },
    thin: { name: "Thin ink, 8 mPa s", viscosity: "8 mPa s" },
  };
  const rolls = {
    carton: { name: "160 lines/cm, 4.5 cm3/m2", roll: { radius: "70 mm", land_roughness: "0.24 um", run_out: "8 um",
      engraving: { pattern: "hexagon", screen: "160 lines/cm", wall_width: "5 um", cell_volume: "4.5 cm3/m2", fill: 0.9 } } },
    coarse: { name: "100 lines/cm, 8.5 cm3/m2", roll: { radius: "110 mm", land_roughness: "0.3 um", run_out: "15 um",
      engraving: { pattern: "hexagon", screen: "100 lines/cm", wall_width: "8 um", cell_volume: "8.5 cm3/m2", fill: 0.9 } } },
    fine: { name: "240 lines/cm, 3.5 cm3/m2", roll: { radius: "50 mm", land_roughness: "0.2 um", run_out: "6 um",
      engraving: { pattern: "hexagon", screen: "240 lines/cm", wall_width: "4 um", cell_volume: "3.5 cm3/m2", fill: 0.9 } } },
  };
  return { inks, rolls };
})();
