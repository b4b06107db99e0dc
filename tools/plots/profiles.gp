# Lateral profiles of one point under several recipes, in dB against each profile's own peak.
#
# Data: a CSV with two columns per curve: position in mm and level in dB; where predicted is 1, as many again after them
# with the prediction (drawn dashed, in the same hue).
# Alone: gnuplot -e "csv='profiles.csv'; curves=2; names='\"Fixed focus\" \"Dynamic focus\"'" profiles.gp

if (!exists("csv")) csv = 'profiles.csv'
if (!exists("curves")) curves = 1
if (!exists("names")) names = ''                    # one quoted word per curve
if (!exists("plot_title")) plot_title = 'Lateral profile of a point'
if (!exists("min_dB")) min_dB = -60
if (!exists("half_range_mm")) half_range_mm = 0     # 0: as far as the data go
if (!exists("predicted")) predicted = 0             # 1: predicted columns follow
if (!exists("footer")) footer = ''
if (!exists("key_columns")) key_columns = 2         # of the legend
if (!exists("png_file")) png_file = 'profiles.png'
if (!exists("svg_file")) svg_file = 'profiles.svg'

# Okabe & Ito's colours for every kind of colour vision, ordered so that neighbours also differ in lightness. In grey the
# dashes distinguish the curves or, where dashes are predictions, the marks.
array hue[8] = ['#0072B2', '#D55E00', '#009E73', '#000000', '#CC79A7', '#56B4E9', '#E69F00', '#7F7F7F']
array dash[8] = ['', '-', '_.', '.', '_', '-.', '_..', '..']
array mark[8] = [7, 5, 9, 13, 11, 15, 6, 4]

set datafile separator ','
set xlabel 'lateral distance from the point (mm)' noenhanced
set ylabel 'level (dB re own peak)' noenhanced
set title plot_title . (predicted ? "\nlines with marks: measured, dashes: predicted" : '') noenhanced offset 0,0.3
set border 3 lw 2 lc rgb '#404040'
set tics nomirror out scale 0.75
set grid ytics xtics lw 1 lt 1 lc rgb '#DDDDDD'
set yrange [min_dB:2]
set ytics (0, -6, -20, -30, -40, -50, -60, -70, -80, -90, -100)
if (half_range_mm > 0) { set xrange [-half_range_mm:half_range_mm] }
set key outside bottom center horizontal Left reverse samplen 4 spacing 1.35 height 0.5 maxcols key_columns noenhanced

name(i) = (names eq '') ? sprintf('curve %d', i) : word(names, i)
if (footer ne '') {
    set size 1,0.93
    set origin 0,0.07
    set label 1 footer at screen 0.5,0.05 center font 'DejaVu Sans,16' noenhanced
}

set terminal pngcairo size 1600,1150 font 'DejaVu Sans,24' linewidth 2 noenhanced background '#FFFFFF'
set output png_file
if (predicted) {
    plot for [i=1:curves] csv using 2*(curves+i)-1:2*(curves+i) with lines lw 1.5 dt '-' lc rgb hue[i] notitle, \
         for [i=1:curves] csv using 2*i-1:2*i with linespoints lw 1.6 pt mark[i] ps 1.4 pi -(11+2*i) lc rgb hue[i] title name(i)
} else {
    plot for [i=1:curves] csv using 2*i-1:2*i with lines lw 1.8 dt dash[i] lc rgb hue[i] title name(i)
}
set output

set terminal svg size 1600,1150 font 'DejaVu Sans,24' linewidth 2 noenhanced background '#FFFFFF'
set output svg_file
replot
set output
