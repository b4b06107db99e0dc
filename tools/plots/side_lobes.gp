# The trade of windows: highest side lobe (above) and width of the main lobe (below) of one point, image by image:
# measured (marks), predicted (dashes), and the continuous-wave rule with both apertures in focus (hollow).
#
# Data: a CSV with a row per image: its name, side lobe in dB measured, predicted and by the rule, width in mm likewise.
# Alone: gnuplot -e "csv='side_lobes.csv'; curves=4" side_lobes.gp

if (!exists("csv")) csv = 'side_lobes.csv'
if (!exists("curves")) curves = 1                   # rows of the file
if (!exists("names")) names = ''
if (!exists("plot_title")) plot_title = 'Side lobe against main lobe'
if (!exists("footer")) footer = ''
if (!exists("key_columns")) key_columns = 2
if (!exists("png_file")) png_file = 'side_lobes.png'
if (!exists("svg_file")) svg_file = 'side_lobes.svg'

set datafile separator ','
set datafile columnheaders
set border 3 lw 2 lc rgb '#404040'
set tics nomirror out scale 0.75
set grid ytics lw 1 lt 1 lc rgb '#DDDDDD'
set xrange [0.5:curves+0.5]
name(i) = (names eq '') ? sprintf('image %d', i) : word(names, i)

do for [kind=1:2] {
    if (kind == 1) {
        set terminal pngcairo size 1600,1250 font 'DejaVu Sans,24' linewidth 2 noenhanced background '#FFFFFF'
        set output png_file
    } else {
        set terminal svg size 1600,1250 font 'DejaVu Sans,24' linewidth 2 noenhanced background '#FFFFFF'
        set output svg_file
    }
    if (footer ne '') { set label 1 footer at screen 0.5,0.04 center font 'DejaVu Sans,16' noenhanced }
    set label 2 plot_title at screen 0.5,0.97 center noenhanced
    set multiplot
    set lmargin at screen 0.12
    set rmargin at screen 0.97
    set tmargin at screen 0.885
    set bmargin at screen 0.61
    set yrange [*:*]
    set offsets 0, 0, graph 0.15, graph 0.15
    set ytics autofreq
    set xtics 1,1,curves format ''
    set ylabel "highest side lobe\n(dB re peak)" noenhanced
    set key at screen 0.5,0.945 center top horizontal Left reverse samplen 4 noenhanced font 'DejaVu Sans,20'
    plot csv using ($0+0.7):3:(0.6):(0) with vectors nohead lw 2.2 dt '-' lc rgb '#D55E00' title 'predicted', \
         csv using ($0+1):4 with points pt 4 ps 2.2 lw 1.6 lc rgb '#000000' title 'rule (continuous wave)', \
         csv using ($0+1):2 with points pt 7 ps 2.0 lc rgb '#0072B2' title 'measured'
    unset label
    unset key
    set tmargin at screen 0.57
    set bmargin at screen 0.30
    set yrange [0:*]
    set offsets 0, 0, graph 0.15, 0
    set ylabel "width at half\namplitude (mm)" noenhanced
    set for [i=1:curves] xtics add (name(i) i)
    set xtics rotate by 20 right font 'DejaVu Sans,19' noenhanced
    plot csv using ($0+0.7):6:(0.6):(0) with vectors nohead lw 2.2 dt '-' lc rgb '#D55E00' title 'predicted', \
         csv using ($0+1):7 with points pt 4 ps 2.2 lw 1.6 lc rgb '#000000' title 'rule', \
         csv using ($0+1):5 with points pt 7 ps 2.0 lc rgb '#0072B2' title 'measured'
    unset multiplot
    set output
    set xtics norotate font 'DejaVu Sans,24'
}
