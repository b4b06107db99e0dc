# Echoes of one point: left as the channels receive them, right after the receive delays; below, the mean of all channels.
#
# Data: a CSV with the columns channel (0 for the mean), time_us, before, after (relative to the peak of all channels),
# arrival_us and meeting_us (where the delays take the echo from and to); a blank line after each channel.
# Alone: gnuplot -e "csv='alignment.csv'; channels=64; first_us=50; last_us=56" alignment.gp

if (!exists("csv")) csv = 'alignment.csv'
if (!exists("plot_title")) plot_title = 'Echoes brought into phase by the receive delays'
if (!exists("subtitle")) subtitle = ''
if (!exists("footer")) footer = ''
if (!exists("channels")) channels = 64
if (!exists("stride")) stride = 1                   # every so many channels are drawn
if (!exists("first_us")) first_us = 0
if (!exists("last_us")) last_us = 10
if (!exists("png_file")) png_file = 'alignment.png'
if (!exists("svg_file")) svg_file = 'alignment.svg'

set datafile separator ','
set border 3 lw 2 lc rgb '#404040'
set tics nomirror out scale 0.75
swing = 1.3 * stride                                # channels that the highest echo takes up
span = last_us - first_us
tic_us = span < 4 ? 0.5 : span < 9 ? 1 : span < 20 ? 2 : 5
left = 0.105
across = 0.42
gap = 0.04
array column_of[2] = [3, 4]
array mark_of[2] = [5, 6]
array panel_title[2] = ['as received', 'after the receive delays']

do for [pass=1:2] {
    if (pass == 1) { set terminal pngcairo size 1600,1400 font 'DejaVu Sans,24' linewidth 2 noenhanced background '#FFFFFF'; set output png_file }
    if (pass == 2) { set terminal svg size 1600,1400 font 'DejaVu Sans,24' linewidth 2 noenhanced background '#FFFFFF'; set output svg_file }
    set multiplot
    unset key
    set xrange [first_us:last_us]
    set xtics tic_us
    do for [p=1:2] {
        unset label
        set lmargin at screen left + (p-1) * (across + gap)
        set rmargin at screen left + (p-1) * (across + gap) + across
        set tmargin at screen 0.875
        set bmargin at screen 0.36
        set yrange [-swing:channels+1+swing]
        set format x ''
        set xlabel ''
        set grid xtics lw 1 lt 1 lc rgb '#DDDDDD'
        set label 2 panel_title[p] at graph 0.5,1.03 center noenhanced
        if (p == 1) {
            set label 1 plot_title at screen 0.53,0.968 center font 'DejaVu Sans,27' noenhanced
            set label 4 subtitle at screen 0.53,0.934 center font 'DejaVu Sans,19' noenhanced
            set label 5 'orange: the arrival time that the delays assume' at screen 0.962,0.335 right font 'DejaVu Sans,17' noenhanced
            if (footer ne '') { set label 3 footer at screen 0.5,0.022 center font 'DejaVu Sans,16' noenhanced }
            set ylabel 'channel' noenhanced offset 1,0
            set format y '% h'
        }
        if (p == 2) { set ylabel ''; set format y '' }
        plot csv using (column(1) > 0 ? column(2) : NaN):(column(1) + swing * column(column_of[p])) with lines lw 0.8 lc rgb '#202020', \
             csv every 1000000 using (column(1) > 0 ? column(mark_of[p]) : NaN):(column(1) - 0.5*stride):(0):(stride) with vectors nohead lw 2 lc rgb '#D55E00'
        unset label
        set tmargin at screen 0.315
        set bmargin at screen 0.135
        set yrange [-1.05:1.05]
        set ytics 0.5
        set format x '% h'
        set xlabel 'time (µs)' noenhanced offset 0,0.3
        set grid xtics ytics lw 1 lt 1 lc rgb '#DDDDDD'
        if (p == 1) { set ylabel 'mean (relative)' noenhanced offset 1.6,0 }
        plot csv using (column(1) == 0 ? column(2) : NaN):(column(column_of[p])) with lines lw 1.6 lc rgb '#0072B2'
        set ytics autofreq
    }
    unset multiplot
    set output
}
