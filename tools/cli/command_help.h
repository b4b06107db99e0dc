#pragma once
/// The text before the options of each command: what it is for, and examples; and the rules that all helps end with.

namespace echoloom {

inline constexpr const char* program_help =
    R"(A bench for array imaging: computes the echoes that each element receives from a known phantom, keeps them,
and forms images from the same echoes in different ways.

Examples:
  echoloom simulate teaching_block --probe linear_5MHz --scan lines_focus_40mm -o block.h5
  echoloom reconstruct block.h5 --recipe fixed_focus --recipe dynamic_focus
  echoloom measure fixed_focus.h5 dynamic_focus.h5
  echoloom list probes
)";

inline constexpr const char* simulate_help =
    R"(Computes the echoes that each element receives from a known phantom.

Examples:
  echoloom simulate teaching_block --probe linear_5MHz --scan lines_focus_40mm -o block.h5
  echoloom simulate my_phantom.toml --probe linear_5MHz --scan plane_waves_31 --dry-run
  echoloom simulate wire_ladder --probe linear_5MHz --scan lines_focus_40mm \
      --set scan.focus_depth_mm=60 --set probe.bandwidth_percent=40 -o ladder_60mm.h5
)";

inline constexpr const char* reconstruct_help =
    R"(Forms images from a recording, one for each recipe.
An image is NAME.h5 (the envelope) and NAME.png (the picture), NAME being the recipe's. Two to six recipes also
give panels.png, all of them side by side, and, where the recording contains its true points, plots of lateral
profiles and of width against depth.

Examples:
  echoloom reconstruct block.h5 --recipe dynamic_focus
  echoloom reconstruct block.h5 --recipe fixed_focus --recipe dynamic_focus -o pictures
  echoloom reconstruct block.h5 --recipe growing_aperture --set recipe.receive.f_number=3 -o wide.h5
)";

inline constexpr const char* measure_help =
    R"(Measures points, regions and speckle in images, beside what theory predicts.
Of every true point its widths, position and side lobes; of regions contrast, CNR and gCNR; of speckle its statistics
and size; distances; the slice's thickness from inclined sheets; the depth of penetration where noise was added. An
image of a recording that contains no targets is searched for bright points; or give points and regions by hand.

Examples:
  echoloom measure dynamic_focus.h5
  echoloom measure fixed_focus.h5 dynamic_focus.h5 --plot curves
  echoloom measure dynamic_focus.h5 --json > widths.json
  echoloom measure acquired.h5 --point 0,30 --point 0,50        # points, in mm: x, depth
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
  echoloom panels a.h5 b.h5 --heading "One and two zones" --title "One zone" --title "Two zones"
  echoloom panels near.h5 far.h5 --common-peak --dynamic-range-db 50
)";

inline constexpr const char* beam_help =
    R"(Computes the beam of one event: transmit, receive, or two-way.
A table of near zone, divergence, pressure on the axis and width against depth, theory beside it; with --map also the
beam in dB, in the plane of the image, in elevation or at one depth, with --plot the curves against depth, with
--pattern level against angle: side lobes, and grating lobes where theory puts them. Several probes (or scans, or as
many of one as of the other), paths and recipes are compared side by side.

Examples:
  echoloom beam --probe linear_5MHz --scan lines_focus_40mm --map beam.png
  echoloom beam --probe disc_10mm_3MHz --probe disc_20mm_3MHz --scan single_beam --unfocused --plot discs.png
  echoloom beam --probe linear_5MHz --scan lines_focus_40mm --path transmit --path receive --path two-way \
      --recipe growing_aperture --map paths.png --pattern lobes.png
  echoloom beam --probe phased_coarse --scan sector_lines --event 20 --pulsed --pattern grating.png
  echoloom beam --probe lens_5MHz --scan rows_lines --plane elevation --map slice.png
  echoloom beam --probe linear_5MHz --scan lines_focus_40mm --plane depth --at-mm 40 --map spot.png
)";

inline constexpr const char* wavefronts_help =
    R"(Shows how a wavefront forms, and how its echoes are brought into phase.
The wavelets of the elements add up to one front that curves to the focus: panels of several instants, or an animation
that any browser or slide program plays. Further the delays that do it, drawn above the array for near and far foci,
steered and not; and the echoes of one point in every channel before and after the receive delays, with their sum.

Examples:
  echoloom wavefronts --probe phased_2.5MHz --focus-mm 30 --panels front.png --animation front.gif
  echoloom wavefronts --probe phased_2.5MHz --focus-mm 30 --steer-deg 20 --elements 32 --panels steered.png
  echoloom wavefronts --probe linear_5MHz --scan plane_waves_31 --event 4 --panels plane.png
  echoloom wavefronts --probe linear_5MHz --focus-mm 20 --focus-mm 80 --steer-deg 0 --steer-deg 20 --delays delays.png
  echoloom wavefronts --probe linear_5MHz --focus-mm 40 --point 3,40 --echoes aligned.png
  echoloom wavefronts --recording block.h5 --point 0,30 --echoes aligned.png
)";

inline constexpr const char* import_help = R"(Makes a recording of acquired data: .npy, .mat or raw numbers.
A small TOML file describes which array and transmit events they belong to, the order in which they lie and when they
were taken; what is missing is asked for by name. A report warns of what looks wrong: dead elements, clipping, offset,
band, and, where the position of a target is known, whether its echo arrives on time and which sign the delays have.

Examples:
  echoloom import --example > acquisition.toml
  echoloom import acquisition.toml --dry-run
  echoloom import acquisition.toml -o recording.h5
  echoloom import acquisition.toml --set acquisition.timing.pulse_center_us=0.42 -o recording.h5 --force
)";

inline constexpr const char* compare_help =
    R"(Compares an image or a recording with one made before: same, better or worse.
Shows whether every sample is the same bit by bit, else by how much they differ and where; how alike the pictures look;
and how each number of `measure` changed, with its tolerance. Two folders are compared file by file.
Exits with 0 where the two are the same within tolerance, with 1 where they differ (also for the better), with 2 where
the comparison is inconclusive.

Examples:
  echoloom compare before/apodized.h5 after/apodized.h5
  echoloom compare before/apodized.h5 after/apodized.h5 --picture difference.png
  echoloom compare before after --junit report.xml --picture differences
  echoloom compare before.h5 after.h5 --tolerances mine.toml --all
)";

inline constexpr const char* show_help =
    R"(Describes a recording, an image, a phantom, a probe, a scan or a recipe.
With a probe, a scan shows the frame rate that it allows and what that is made of: depth, lines and zones. With --toml
the text of a phantom, probe, scan or recipe is printed, its keys explained, to be changed and used as a file.

Examples:
  echoloom show block.h5
  echoloom show block.h5 --verify
  echoloom show lines_focus_40mm --probe linear_5MHz --set scan.depth_mm=150
  echoloom show growing_aperture
  echoloom show --toml growing_aperture > mine.toml
)";

inline constexpr const char* list_help =
    R"(Lists the phantoms, probes, scans and recipes that come with the program, a line each.
`echoloom show NAME` describes one of them, `echoloom show --toml NAME` prints its text.

Examples:
  echoloom list
  echoloom list scans
  echoloom list --json
)";

inline constexpr const char* output_rule =
    R"(Outputs: a file or folder named by an option goes exactly there, seen from the current folder; without an option
an output goes beside the recording or image that it is made from or, where there is none, into the current folder.
)";

inline constexpr const char* exit_codes =
    R"(Exit codes: 0 done; 1 different (compare only); 2 an option or a file is invalid, or a comparison is
inconclusive; 3 the machine refused (disk, memory, permission); 130 interrupted.
)";

inline constexpr const char* general_caution =
    R"(For teaching and research only; not for diagnosis or for setting acoustic output;
licensed practice and local regulations decide.)";

}  // namespace echoloom
