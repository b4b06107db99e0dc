# Contrast of regions against depth: measured (marks with 95 % bars), true (black dashes).
#
# Data: a CSV of depth_mm, x_mm, region, true_dB and three columns per curve: contrast in dB and its 95 % limits. Empty
# lines separate regions of different true contrast.
# Alone: gnuplot -e "csv='contrast.csv'; curves=2; names='\"Fixed focus\" \"Dynamic focus\"'" contrast.gp

if (!exists("csv")) csv = 'contrast.csv'
if (!exists("curves")) curves = 1
if (!exists("names")) names = ''                    # one quoted word per curve
if (!exists("plot_title")) plot_title = 'Contrast of regions against depth'
if (!exists("footer")) footer = ''
if (!exists("key_columns")) key_columns = 2         # of the legend
if (!exists("png_file")) png_file = 'contrast.png'
if (!exists("svg_file")) svg_file = 'contrast.svg'

# Okabe & Ito's colours for every kind of colour vision, ordered so that neighbours also differ in lightness. In grey the
# marks and the dashes distinguish the curves.
array hue[8] = ['#0072B2', '#D55E00', '#009E73', '#000000', '#CC79A7', '#56B4E9', '#E69F00', '#7F7F7F']
array mark[8] = [7, 5, 9, 13, 11, 15, 6, 4]
array size[8] = [1.9, 1.8, 2.2, 2.4, 2.2, 2.0, 1.9, 1.8]
array dash[8] = ['', '-', '_.', '.', '_', '-.', '_..', '..']

set datafile separator ','
set datafile columnheaders
set xlabel 'depth (mm)' noenhanced
set ylabel 'contrast against the surroundings (dB)' noenhanced
set title plot_title . "\nmarks: measured, bars: 95 %; black dashes: true" noenhanced offset 0,0.2
set border 3 lw 2 lc rgb '#404040'
set tics nomirror out scale 0.75
set grid ytics xtics lw 1 lt 1 lc rgb '#DDDDDD'
set offsets graph 0.04, graph 0.04, graph 0.05, graph 0.05
set key outside bottom center horizontal Left reverse samplen 4 spacing 1.35 height 0.5 maxcols key_columns noenhanced
set bars 0.5

# Curves at one depth stand side by side.
stats csv using 1 nooutput
apart = 0.007 * (STATS_max > STATS_min ? STATS_max - STATS_min : 10)
beside(i) = (i - 0.5 * (curves + 1)) * apart
half_dash = 0.5 * (curves + 3) * apart

name(i) = (names eq '') ? sprintf('curve %d', i) : word(names, i)
if (footer ne '') {
    set size 1,0.93
    set origin 0,0.07
    set label 1 footer at screen 0.5,0.05 center font 'DejaVu Sans,16' noenhanced
}

set terminal pngcairo size 1600,1150 font 'DejaVu Sans,24' linewidth 2 noenhanced background '#FFFFFF'
set output png_file
plot csv using ($1-half_dash):4:(2*half_dash):(0) with vectors nohead lw 2.2 dt '-' lc rgb '#000000' notitle, \
     for [i=1:curves] csv using ($1+beside(i)):3*i+2 with lines lw 1.4 dt dash[i] lc rgb hue[i] notitle, \
     for [i=1:curves] csv using ($1+beside(i)):3*i+2:3*i+3:3*i+4 with yerrorbars lw 1.2 pt mark[i] ps size[i] lc rgb hue[i] notitle, \
     for [i=1:curves] keyentry with linespoints lw 1.6 dt dash[i] pt mark[i] ps size[i] lc rgb hue[i] title name(i)
set output

set terminal svg size 1600,1150 font 'DejaVu Sans,24' linewidth 2 noenhanced background '#FFFFFF'
set output svg_file
replot
set output
