# The trade-off of windows: peak side lobe (above) and width of the main lobe (below) of one point, image by image:
# measured (marks), predicted (dashes), and continuous-wave theory with both apertures in focus (hollow).
#
# Data: a CSV with a row per image: its name; peak side lobe in dB measured (empty where there is none), predicted and from
# theory; width in mm likewise.
# Alone: gnuplot -e "csv='side_lobes.csv'; curves=4" side_lobes.gp

if (!exists("csv")) csv = 'side_lobes.csv'
if (!exists("curves")) curves = 1                   # rows of the file
if (!exists("names")) names = ''
if (!exists("plot_title")) plot_title = 'Peak side lobe and main lobe width'
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

# Names in lines no longer than the room that an image has, so that neither the page nor a neighbour cuts them.
longest = 84 / curves                              # characters
array label[curves]
do for [i=1:curves] {
    label[i] = ''
    line = ''
    do for [n=1:words(name(i))] {
        piece = word(name(i), n)
        if (line ne '' && strlen(line) + 1 + strlen(piece) > longest) {
            label[i] = label[i] . line . "\n"
            line = ''
        }
        line = line . (line eq '' ? '' : ' ') . piece
        while (strlen(line) > longest) {
            label[i] = label[i] . substr(line, 1, longest) . "\n"
            line = substr(line, longest + 1, strlen(line))
        }
    }
    label[i] = label[i] . line
}

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
    set lmargin at screen 0.13
    set rmargin at screen 0.97
    set tmargin at screen 0.885
    set bmargin at screen 0.60
    set yrange [*:*]
    set offsets 0, 0, graph 0.15, graph 0.15
    set ytics autofreq
    set xtics 1,1,curves format ''
    set y2range [0:1]
    set ylabel "peak side lobe\n(dB re peak)" noenhanced offset -0.6,0
    set key at screen 0.55,0.945 center top horizontal maxcols 3 Left reverse samplen 4 noenhanced font 'DejaVu Sans,20'
    plot csv using ($0+0.7):3:(0.6):(0) with vectors nohead lw 2.2 dt '-' lc rgb '#D55E00' title 'predicted', \
         csv using ($0+1):4 with points pt 4 ps 2.2 lw 1.6 lc rgb '#000000' title 'theory (continuous wave)', \
         csv using ($0+1):(0.06):(strcol(2) eq '' ? 'none' : '') axes x1y2 with labels font 'DejaVu Sans,19' notitle, \
         csv using ($0+1):2 with points pt 7 ps 2.0 lc rgb '#0072B2' title 'measured'
    unset label
    unset key
    set tmargin at screen 0.555
    set bmargin at screen 0.25
    set yrange [0:*]
    set offsets 0, 0, graph 0.15, 0
    set ylabel "lateral -6 dB\nwidth (mm)" noenhanced offset -0.6,0
    set for [i=1:curves] xtics add (label[i] i)
    set xtics font 'DejaVu Sans,19' noenhanced
    plot csv using ($0+0.7):6:(0.6):(0) with vectors nohead lw 2.2 dt '-' lc rgb '#D55E00' title 'predicted', \
         csv using ($0+1):7 with points pt 4 ps 2.2 lw 1.6 lc rgb '#000000' title 'theory', \
         csv using ($0+1):5 with points pt 7 ps 2.0 lc rgb '#0072B2' title 'measured'
    unset multiplot
    set output
    set xtics font 'DejaVu Sans,24'
}
