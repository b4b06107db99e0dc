# When each element fires, drawn above the array: one panel an angle of steering, one curve a focus.
#
# Data: a CSV with the columns panel (1, 2, ...), curve (1, 2, ...), element_position_mm and delay_us (after the
# first element that fires). element_mm is the width of an element.
# Alone: gnuplot -e "csv='delays.csv'; curves=2; names='\"near\" \"far\"'" delays.gp

if (!exists("csv")) csv = 'delays.csv'
if (!exists("curves")) curves = 1
if (!exists("names")) names = ''                    # one quoted word per focus
if (!exists("plot_title")) plot_title = 'Firing delays'
if (!exists("footer")) footer = ''
if (!exists("panels")) panels = 1
if (!exists("panel_title")) array panel_title[1] = ['']
if (!exists("element_mm")) element_mm = 0.2
if (!exists("half_mm")) half_mm = 10                # of the array
if (!exists("longest_us")) longest_us = 1
if (!exists("png_file")) png_file = 'delays.png'
if (!exists("svg_file")) svg_file = 'delays.svg'

# Okabe & Ito's colours for every kind of colour vision, ordered so that neighbours also differ in lightness. In grey the
# symbols tell the curves apart.
array hue[8] = ['#0072B2', '#D55E00', '#009E73', '#000000', '#CC79A7', '#56B4E9', '#E69F00', '#7F7F7F']
array symbol[8] = [7, 4, 9, 10, 5, 6, 8, 11]

set datafile separator ','
set border 3 lw 2 lc rgb '#404040'
set tics nomirror out scale 0.75
set grid ytics lw 1 lt 1 lc rgb '#DDDDDD'
set style fill solid 1.0 noborder
deep = 0.07 * longest_us                            # the array's height on the page
set yrange [-1.6*deep:1.06*longest_us]
set xrange [-1.07*half_mm-element_mm:1.07*half_mm+element_mm]
name(i) = (names eq '') ? sprintf('focus %d', i) : word(names, i)

left = 0.095
gap = 0.04
across = (0.965 - left - gap * (panels - 1)) / panels
legend_top = 0.085 + 0.036 * curves
do for [pass=1:2] {
    if (pass == 1) { set terminal pngcairo size 1600,1000 font 'DejaVu Sans,24' linewidth 2 noenhanced background '#FFFFFF'; set output png_file }
    if (pass == 2) { set terminal svg size 1600,1000 font 'DejaVu Sans,24' linewidth 2 noenhanced background '#FFFFFF'; set output svg_file }
    set multiplot
    do for [p=1:panels] {
        unset label
        set lmargin at screen left + (p-1) * (across + gap)
        set rmargin at screen left + (p-1) * (across + gap) + across
        set tmargin at screen 0.86
        set bmargin at screen legend_top + 0.135
        if (p == 1) {
            set label 1 plot_title at screen 0.53,0.955 center font 'DejaVu Sans,27' noenhanced
            if (footer ne '') { set label 3 footer at screen 0.5,0.03 center font 'DejaVu Sans,16' noenhanced }
            set ylabel 'delay after the first element (µs)' noenhanced offset 1,0
            set format y '% h'
            set key at screen 0.09,legend_top top left vertical Left reverse samplen 3 spacing 1.3 maxcols 1 noenhanced
        }
        if (p > 1) { set ylabel ''; set format y ''; unset key }
        set label 2 panel_title[p] at graph 0.5,1.045 center noenhanced
        set xlabel 'position along the array (mm)' noenhanced offset 0,0.3
        plot csv using (column(1) == p && column(2) == 1 ? column(3) : NaN):(-0.5*deep):(0.5*element_mm):(0.5*deep) with boxxyerror lc rgb '#606060' notitle, \
             for [i=1:curves] csv using (column(1) == p && column(2) == i ? column(3) : NaN):4 with linespoints lw 1.2 pt symbol[i] ps 0.9 lc rgb hue[i] title name(i)
    }
    unset multiplot
    set output
}
