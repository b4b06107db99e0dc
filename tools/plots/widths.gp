# Lateral -6 dB width of points against depth: measured (marks) and predicted (dashes, same hue).
#
# Data: a CSV whose first column is depth_mm, followed by three columns per curve: measured width in mm, predicted, and
# measured over fewer than 3 pixels (drawn hollow).
# Alone: gnuplot -e "csv='widths.csv'; curves=2; names='\"Fixed focus\" \"Dynamic focus\"'" widths.gp

if (!exists("csv")) csv = 'widths.csv'
if (!exists("curves")) curves = 1
if (!exists("names")) names = ''                    # one quoted word per curve
if (!exists("plot_title")) plot_title = 'Lateral -6 dB width of points against depth'
if (!exists("log_width")) log_width = 0             # 1: logarithmic width axis, for widths that differ by several times
if (!exists("width_label")) width_label = 'lateral -6 dB width (mm)'
if (!exists("hollow")) hollow = 0                   # 1: some marks are hollow
if (!exists("footer")) footer = ''
if (!exists("key_columns")) key_columns = 2         # of the legend
if (!exists("png_file")) png_file = 'widths.png'
if (!exists("svg_file")) svg_file = 'widths.svg'

# Okabe & Ito's colours for every kind of colour vision, ordered so that neighbours also differ in lightness. In grey the
# marks and the dashes distinguish the curves.
array hue[8] = ['#0072B2', '#D55E00', '#009E73', '#000000', '#CC79A7', '#56B4E9', '#E69F00', '#7F7F7F']
# Filled marks; the hollow one of each is the number before.
array mark[8] = [7, 5, 9, 13, 11, 15, 7, 5]
array size[8] = [1.9, 1.8, 2.2, 2.4, 2.2, 2.0, 1.9, 1.8]
array dash[8] = ['-', '_', '.', '_.', '-.', '_..', '..', '-..']

set datafile separator ','
set xlabel 'depth (mm)' noenhanced
set ylabel width_label noenhanced
set title plot_title . "\nmarks: measured, dashes: predicted" . (hollow ? "; hollow: fewer than 3 pixels" : '') noenhanced offset 0,0.2
set border 3 lw 2 lc rgb '#404040'
set tics nomirror out scale 0.75
set grid ytics xtics lw 1 lt 1 lc rgb '#DDDDDD'
if (log_width) {
    set logscale y
    set ytics (0.05, 0.07, 0.1, 0.15, 0.2, 0.3, 0.5, 0.7, 1, 1.5, 2, 3, 5, 7, 10, 15, 20, 30, 50)
}
set key outside bottom center horizontal Left reverse samplen 4 spacing 1.35 height 0.5 maxcols key_columns noenhanced

name(i) = (names eq '') ? sprintf('curve %d', i) : word(names, i)
if (footer ne '') {
    set size 1,0.93
    set origin 0,0.07
    set label 1 footer at screen 0.5,0.05 center font 'DejaVu Sans,16' noenhanced
}

set terminal pngcairo size 1600,1150 font 'DejaVu Sans,24' linewidth 2 noenhanced background '#FFFFFF'
set output png_file
plot for [i=1:curves] csv using 1:3*i with lines lw 1.8 dt dash[i] lc rgb hue[i] notitle, \
     for [i=1:curves] csv using 1:3*i-1 with points lw 1.6 pt mark[i] ps size[i] lc rgb hue[i] notitle, \
     for [i=1:(hollow ? curves : 0)] csv using 1:3*i+1 with points lw 1.6 pt mark[i]-1 ps size[i] lc rgb hue[i] notitle, \
     for [i=1:curves] keyentry with linespoints lw 1.8 dt dash[i] pt mark[i] ps size[i] lc rgb hue[i] title name(i)
set output

set terminal svg size 1600,1150 font 'DejaVu Sans,24' linewidth 2 noenhanced background '#FFFFFF'
set output svg_file
replot
set output
