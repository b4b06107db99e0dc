# Correlation of the echoes of later pulses with the one through a target, against the angle by which the beam has turned
# (left) and against beam widths (right). With a stationary beam it stays 1.
#
# Data: a CSV with three columns per curve: angle in degrees, beam widths and correlation.
# Alone: gnuplot -e "csv='correlation.csv'; curves=1; names='\"60 mm deep\"'" correlation.gp

if (!exists("csv")) csv = 'correlation.csv'
if (!exists("curves")) curves = 1
if (!exists("names")) names = ''                    # one quoted word per curve
if (!exists("plot_title")) plot_title = 'Correlation of later pulses'
if (!exists("footer")) footer = ''
if (!exists("min_y")) min_y = -1.05          # lower end of the axis
if (!exists("key_columns")) key_columns = 2         # of the legend
if (!exists("png_file")) png_file = 'correlation.png'
if (!exists("svg_file")) svg_file = 'correlation.svg'

# Okabe & Ito's colours for every kind of colour vision, ordered so that neighbours also differ in lightness. In grey the
# marks distinguish the curves.
array hue[8] = ['#0072B2', '#D55E00', '#009E73', '#000000', '#CC79A7', '#56B4E9', '#E69F00', '#7F7F7F']
array mark[8] = [7, 5, 9, 13, 11, 15, 6, 4]

set datafile separator ','
set datafile columnheaders
set border 3 lw 2 lc rgb '#404040'
set tics nomirror out scale 0.75
set grid ytics xtics lw 1 lt 1 lc rgb '#DDDDDD'
set yrange [min_y:1.1]
set ytics 0.25
set xrange [0:*]

name(i) = (names eq '') ? sprintf('curve %d', i) : word(names, i)

do for [kind=1:2] {
    if (kind == 1) {
        set terminal pngcairo size 1900,1150 font 'DejaVu Sans,24' linewidth 2 noenhanced background '#FFFFFF'
        set output png_file
    } else {
        set terminal svg size 1900,1150 font 'DejaVu Sans,24' linewidth 2 noenhanced background '#FFFFFF'
        set output svg_file
    }
    if (footer ne '') { set label 1 footer at screen 0.5,0.05 center font 'DejaVu Sans,16' noenhanced }
    set label 2 plot_title at screen 0.5,0.965 center noenhanced
    set multiplot
    set tmargin at screen 0.92
    set bmargin at screen 0.36
    set lmargin at screen 0.10
    set rmargin at screen 0.52
    set ylabel 'correlation with the first pulse' noenhanced offset 1,0
    set xlabel 'angle turned (degrees)' noenhanced
    set key at screen 0.5,0.24 center top vertical maxrows 3 Left reverse samplen 3 spacing 1.3 width 2 noenhanced font 'DejaVu Sans,20'
    plot 1 with lines lw 1.4 dt '-' lc rgb '#7F7F7F' title 'stationary beam', \
         for [i=1:curves] csv using 3*i-2:3*i with linespoints lw 1.6 pt mark[i] ps 1.5 lc rgb hue[i] title name(i)
    unset label
    unset key
    set lmargin at screen 0.55
    set rmargin at screen 0.98
    set format y ''
    unset ylabel
    set xlabel 'displacement (-6 dB beam widths)' noenhanced
    plot 1 with lines lw 1.4 dt '-' lc rgb '#7F7F7F', \
         for [i=1:curves] csv using 3*i-1:3*i with linespoints lw 1.6 pt mark[i] ps 1.5 lc rgb hue[i]
    set format y '%g'
    unset multiplot
    set output
}
