# Beams of continuous waves against depth: above the pressure on the axis, below the -6 dB width.
#
# Data: a CSV whose first column is depth_mm, followed by two columns per beam: pressure on the axis (pressure_unit),
# and -6 dB width in mm (empty where it was not computed). near_zone[i] is the length of beam i's near zone in mm, by theory.
# Alone: gnuplot -e "csv='beam.csv'; curves=2; names='\"small\" \"large\"'" beam.gp

if (!exists("csv")) csv = 'beam.csv'
if (!exists("curves")) curves = 1
if (!exists("names")) names = ''                    # one quoted word per beam
if (!exists("plot_title")) plot_title = 'Beams'
if (!exists("footer")) footer = ''
if (!exists("pressure_unit")) pressure_unit = 'ρ c v'
if (!exists("max_depth_mm")) max_depth_mm = 100
if (!exists("near_zone")) array near_zone[8] = [0, 0, 0, 0, 0, 0, 0, 0]     # 0: no mark
if (!exists("png_file")) png_file = 'beam.png'
if (!exists("svg_file")) svg_file = 'beam.svg'

# Okabe & Ito's colours for every kind of colour vision, ordered so that neighbours also differ in lightness. In grey the
# dashes tell the curves apart.
array hue[8] = ['#0072B2', '#D55E00', '#009E73', '#000000', '#CC79A7', '#56B4E9', '#E69F00', '#7F7F7F']
array dash[8] = ['', '-', '_.', '.', '_', '-.', '_..', '..']

set datafile separator ','
set border 3 lw 2 lc rgb '#404040'
set tics nomirror out scale 0.75
set grid ytics xtics lw 1 lt 1 lc rgb '#DDDDDD'
set xrange [0:max_depth_mm]
set yrange [0:*]
name(i) = (names eq '') ? sprintf('beam %d', i) : word(names, i)

marks = ''
do for [i=1:curves] {
    if (near_zone[i] > 0 && near_zone[i] <= max_depth_mm) { marks = 'vertical lines: end of the near zone, theory for its aperture' }
}

# Room, from below: the footer, the legend (one line a beam), the two plots, the title.
legend_top = 0.06 + 0.033 * curves
middle = legend_top + 0.08 + 0.5 * (0.915 - legend_top - 0.08)

do for [pass=1:2] {
    if (pass == 1) { set terminal pngcairo size 1600,1500 font 'DejaVu Sans,24' linewidth 2 noenhanced background '#FFFFFF'; set output png_file }
    if (pass == 2) { set terminal svg size 1600,1500 font 'DejaVu Sans,24' linewidth 2 noenhanced background '#FFFFFF'; set output svg_file }
    unset label
    set multiplot
    set lmargin at screen 0.11
    set rmargin at screen 0.965
    unset key
    set label 1 plot_title at screen 0.53,0.975 center font 'DejaVu Sans,27' noenhanced
    set label 2 marks at screen 0.53,0.938 center noenhanced
    set tmargin at screen 0.915
    set bmargin at screen middle + 0.015
    set format x ''
    set xlabel ''
    set ylabel "pressure on the axis\nin " . pressure_unit noenhanced offset -1,0
    do for [i=1:curves] {
        if (near_zone[i] > 0 && near_zone[i] <= max_depth_mm) {
            set arrow i from first near_zone[i], graph 0 to first near_zone[i], graph 1 nohead lw 1.4 dt 3 lc rgb hue[i]
        }
    }
    plot for [i=1:curves] csv using 1:2*i with lines lw 1.8 dt dash[i] lc rgb hue[i]

    unset label
    set tmargin at screen middle - 0.015
    set bmargin at screen legend_top + 0.08
    set format x '% h'
    set xlabel 'depth along the axis (mm)' noenhanced offset 0,0.3
    set ylabel '−6 dB width (mm)' noenhanced offset 1,0
    if (footer ne '') { set label 3 footer at screen 0.5,0.022 center font 'DejaVu Sans,16' noenhanced }
    set key at screen 0.09,legend_top top left vertical Left reverse samplen 4 spacing 1.3 maxcols 1 noenhanced
    plot for [i=1:curves] csv using 1:2*i+1 with lines lw 1.8 dt dash[i] lc rgb hue[i] title name(i)
    unset multiplot
    unset arrow
    set output
}
