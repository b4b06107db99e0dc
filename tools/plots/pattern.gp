# Beams against angle: level in dB below each main lobe, theory, and where it puts grating lobes.
#
# Data: a CSV with the columns beam (1, 2, ...), angle_deg, level_dB and theory_dB (empty where there is no theory).
# grating_deg[1..gratings] are their angles by theory; has_theory[i] is 1 where beam i has levels by theory.
# Alone: gnuplot -e "csv='pattern.csv'; curves=2; names='\"transmit\" \"receive\"'" pattern.gp

if (!exists("csv")) csv = 'pattern.csv'
if (!exists("curves")) curves = 1
if (!exists("names")) names = ''                    # one quoted word per beam
if (!exists("plot_title")) plot_title = 'Beams against angle'
if (!exists("footer")) footer = ''
if (!exists("angle_name")) angle_name = 'angle (degrees)'
if (!exists("min_dB")) min_dB = -60
if (!exists("max_dB")) max_dB = 3
if (!exists("gratings")) gratings = 0
if (!exists("grating_deg")) array grating_deg[1] = [0]
if (!exists("has_theory")) array has_theory[8] = [0, 0, 0, 0, 0, 0, 0, 0]
if (!exists("png_file")) png_file = 'pattern.png'
if (!exists("svg_file")) svg_file = 'pattern.svg'

# Okabe & Ito's colours for every kind of colour vision, ordered so that neighbours also differ in lightness. In grey the
# dashes tell the curves apart.
array hue[8] = ['#0072B2', '#D55E00', '#009E73', '#000000', '#CC79A7', '#56B4E9', '#E69F00', '#7F7F7F']
array dash[8] = ['', '-', '_.', '.', '_', '-.', '_..', '..']

set datafile separator ','
set border 3 lw 2 lc rgb '#404040'
set tics nomirror out scale 0.75
set grid ytics xtics lw 1 lt 1 lc rgb '#DDDDDD'
set xrange [-90:90]
set xtics 15
set yrange [min_dB:max_dB]
name(i) = (names eq '') ? sprintf('beam %d', i) : word(names, i)

theories = 0
do for [i=1:curves] { if (has_theory[i] > 0) { theories = theories + 1 } }
marks = ''
if (theories > 0) { marks = 'thin grey: theory, continuous wave, from the weights alone' }
if (gratings > 0) { marks = marks . (marks eq '' ? '' : '; ') . 'vertical: grating lobes, theory' }

legend_top = 0.065 + 0.036 * curves
do for [pass=1:2] {
    if (pass == 1) { set terminal pngcairo size 1600,1150 font 'DejaVu Sans,24' linewidth 2 noenhanced background '#FFFFFF'; set output png_file }
    if (pass == 2) { set terminal svg size 1600,1150 font 'DejaVu Sans,24' linewidth 2 noenhanced background '#FFFFFF'; set output svg_file }
    unset label
    set lmargin at screen 0.095
    set rmargin at screen 0.965
    set tmargin at screen 0.895
    set bmargin at screen legend_top + 0.11
    set label 1 plot_title at screen 0.53,0.965 center font 'DejaVu Sans,27' noenhanced
    set label 2 marks at screen 0.53,0.922 center font 'DejaVu Sans,20' noenhanced
    if (footer ne '') { set label 3 footer at screen 0.5,0.026 center font 'DejaVu Sans,16' noenhanced }
    do for [i=1:gratings] {
        set arrow i from first grating_deg[i], graph 0 to first grating_deg[i], graph 1 nohead lw 1.4 dt 3 lc rgb '#606060'
    }
    set xlabel angle_name noenhanced offset 0,0.3
    set ylabel 'level (dB re main lobe)' noenhanced offset 1,0
    set key at screen 0.09,legend_top top left vertical Left reverse samplen 4 spacing 1.3 maxcols 1 noenhanced
    plot for [i=1:curves] csv using (column(1) == i && has_theory[i] > 0 ? column(2) : NaN):4 with lines lw 1 lc rgb '#A0A0A0' notitle, \
         for [i=1:curves] csv using (column(1) == i ? column(2) : NaN):3 with lines lw 1.6 dt dash[i] lc rgb hue[i] title name(i)
    unset arrow
    set output
}
