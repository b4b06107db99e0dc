#pragma once
/// What each subcommand says of itself before its options: what it is for, and examples.

namespace echoloom {

inline constexpr const char* simulate_help =
    R"(Computes the echoes every element would hear from a known phantom.

Examples:
  echoloom simulate teaching_block --probe linear_5MHz --scan lines_focus_40mm -o block.h5
  echoloom simulate my_phantom.toml --probe linear_5MHz --scan plane_waves_31 --dry-run
  echoloom simulate wire_ladder --probe linear_5MHz --scan lines_focus_40mm \
      --set scan.focus_depth_mm=60 --set probe.bandwidth_percent=40 -o ladder_60mm.h5
)";

inline constexpr const char* reconstruct_help =
    R"(Forms images from a recording, one for each recipe.
An image is NAME.h5 (the envelope) and NAME.png (the picture), NAME being the recipe's. Two to six recipes also
give a sheet that shows them side by side and, where the recording knows its true points, plots of lateral
profiles and of width against depth.

Examples:
  echoloom reconstruct block.h5 --recipe dynamic_focus
  echoloom reconstruct block.h5 --recipe fixed_focus --recipe dynamic_focus -o pictures
  echoloom reconstruct block.h5 --recipe my_recipe.toml --set receive.f_number=3 -o wide.h5
)";

inline constexpr const char* measure_help =
    R"(Measures points, regions and speckle in images, beside what theory predicts.
Of every true point its width, place and side lobes; of regions contrast, CNR and gCNR; of speckle its statistics and
grain; distances; the slice's thickness from inclined sheets; the depth of penetration where noise was added. An image
of a recording that knows no targets is searched for bright points; or give places and regions by hand.

Examples:
  echoloom measure dynamic_focus.h5
  echoloom measure fixed_focus.h5 dynamic_focus.h5 --plot curves
  echoloom measure dynamic_focus.h5 --json > widths.json
  echoloom measure acquired.h5 --at 0,30 --at 0,50              # points, in mm: across, depth
  echoloom measure acquired.h5 --box -10,10,20,60               # finds the bright points in a box
  echoloom measure acquired.h5 --disc 4,30,5 --speckle -4,20,10,70
  echoloom measure ring_dynamic.h5 --correlation --plot curves
)";

inline constexpr const char* panels_help =
    R"(Draws images side by side on one page, at one scale of length and one of grey.
They may come from different recordings, so a page can set one array beside another, or one scan. Each panel is
titled by what its image does not share with the others (probe, scan, recipe); what all share is in the caption.
White is each image's own peak, so that widths and shapes compare; with --common-peak it is the brightest peak of
all, so that levels compare as well.

Examples:
  echoloom panels flat/dynamic_focus.h5 curved/dynamic_focus.h5 -o flat_and_curved.png
  echoloom panels a.h5 b.h5 c.h5 --heading "One, two and four zones" --titles "One zone" "Two" "Four"
  echoloom panels near.h5 far.h5 --common-peak --range-dB 50
)";

inline constexpr const char* beam_help =
    R"(Shows the beam of one event: what is sent, what is heard, or both.
A table of near zone, divergence, pressure on the axis and width against depth, theory beside it; with --map also the
beam in dB, in the plane of the image, along elevation or across, with --plot the curves against depth, with --pattern
level against angle: side lobes, and grating lobes where theory puts them. Several probes (or scans, or as many of one
as of the other), ways and recipes are set side by side.

Examples:
  echoloom beam --probe linear_5MHz --scan lines_focus_40mm --map beam.png
  echoloom beam --probe disc_10mm_3MHz --probe disc_20mm_3MHz --scan single_beam --unfocused --plot discs.png
  echoloom beam --probe linear_5MHz --scan lines_focus_40mm --way transmit --way receive --way two-way \
      --recipe growing_aperture --map ways.png --pattern lobes.png
  echoloom beam --probe phased_coarse --scan sector_lines --event 20 --pulsed --pattern grating.png
  echoloom beam --probe lens_5MHz --scan rows_lines --plane elevation --map slice.png
  echoloom beam --probe linear_5MHz --scan lines_focus_40mm --plane depth --at-mm 40 --map spot.png
)";

inline constexpr const char* wavefronts_help =
    R"(Shows how a front comes about, and how its echo is brought into line.
The wavelets of the elements add up to one front that curves to the focus: stills on a sheet, or an animation that any
browser or slide program plays. Further the delays that do it, drawn above the array for near and far foci, steered and
not; and the echoes of one point in every channel before and after the delays of receive, with their sum.

Examples:
  echoloom wavefronts --probe phased_2.5MHz --focus-mm 30 --panels front.png --animation front.gif
  echoloom wavefronts --probe phased_2.5MHz --focus-mm 30 --steer-deg 20 --elements 32 --panels steered.png
  echoloom wavefronts --probe linear_5MHz --scan plane_waves_31 --event 3 --panels plane.png
  echoloom wavefronts --probe linear_5MHz --focus-mm 20 --focus-mm 80 --steer-deg 0 --steer-deg 20 --delays delays.png
  echoloom wavefronts --probe linear_5MHz --focus-mm 40 --point-mm 3 40 --echoes aligned.png
  echoloom wavefronts --recording block.h5 --point-mm 0 30 --echoes aligned.png
)";

inline constexpr const char* import_help = R"(Makes a recording of samples off a bench: .npy, .mat or raw numbers.
A small TOML file says which array and transmit events they belong to, in which order they lie and when they were
taken; what is missing is asked for by name. A report says what looks wrong: dead elements, clipping, offset, band,
and, where the place of a target is known, whether its echo arrives when geometry says and which sign the delays have.

Examples:
  echoloom import --example > acquisition.toml
  echoloom import acquisition.toml --dry-run
  echoloom import acquisition.toml -o recording.h5
  echoloom import acquisition.toml --set timing.pulse_center_us=0.42 -o recording.h5 --force
)";

inline constexpr const char* compare_help =
    R"(Holds an image or a recording against one made before: same, better or worse.
Says whether every sample is the same bit by bit, else by how much they differ and where; how alike the pictures look;
and what became of each number that `measure` tells, with the tolerance it has. Two folders are compared file by file.
Exit code: 0 the same within tolerance, 1 different (better too), 2 could not tell.

Examples:
  echoloom compare before/apodized.h5 after/apodized.h5
  echoloom compare before/apodized.h5 after/apodized.h5 --picture difference.png
  echoloom compare before after --junit report.xml --picture differences
  echoloom compare before.h5 after.h5 --tolerances mine.toml --all
)";

inline constexpr const char* show_help =
    R"(Says in words what is in a recording, image, probe or scan, or lists what is shipped.
With a probe, a scan tells which frame rate it allows and what that is made of: depth, lines and zones. A shipped
phantom or recipe is printed, its keys explained, to be changed and used as a file.

Examples:
  echoloom show block.h5
  echoloom show block.h5 --verify
  echoloom show lines_focus_40mm --probe linear_5MHz --set scan.depth_mm=150
  echoloom show shipped
  echoloom show growing_aperture > mine.toml
)";

}  // namespace echoloom
