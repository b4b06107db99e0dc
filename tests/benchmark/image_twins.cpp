// Images against plain delay-and-sum in NumPy and in compiled Python, from the same samples.

#include <nlohmann/json.hpp>

#include "recon/beamform/aperture.h"
#include "tests/benchmark/twins.h"
#include "tests/benchmark/workloads.h"

namespace echoloom::benchmark {

namespace {

std::vector<float> interleaved(const Beamformed& image) {
    std::vector<float> values;
    values.reserve(2 * image.real.size());
    for (std::size_t i = 0; i < image.real.size(); ++i) {
        values.push_back(image.real[i]);
        values.push_back(image.imaginary[i]);
    }
    return values;
}

void write_events(const std::filesystem::path& folder, const RecordingInfo& info) {
    std::vector<double> start_s;
    std::vector<double> direction;
    std::vector<double> origin_x_m;
    std::vector<double> receivers;
    for (const TransmitEvent& event : info.events) {
        start_s.push_back(event.start_time_s);
        direction.insert(direction.end(), {event.direction.x(), event.direction.y(), event.direction.z()});
        origin_x_m.push_back(event.origin_m.x());
        receivers.insert(receivers.end(), event.receivers.begin(), event.receivers.end());
    }
    const std::size_t events = info.events.size();
    write_npy(folder, "start_s", start_s, {events});
    write_npy(folder, "direction", direction, {events, 3});
    write_npy(folder, "origin_x_m", origin_x_m, {events});
    write_npy(folder, "receivers", receivers, {events, info.channels});
}

void write_scene(const std::filesystem::path& folder, const ImageWorkload& workload, const ImageScene& scene,
                 const Beamformed& image) {
    const RecordingInfo& info = scene.info;
    std::filesystem::create_directory(folder);
    const bool equal = scene.recipe.transmit_weights == TransmitWeights::equal;
    write_case(folder, {{"kind", workload.name == "all_events" ? "matrix" : workload.name},
                        {"sampling_rate_Hz", info.sampling_rate_Hz},
                        {"sound_speed_m_s", assumed_sound_speed(scene.recipe, info)},
                        {"pitch_m", mean_pitch_m(info.probe)},
                        {"max_elements", info.channels},
                        {"f_number", scene.recipe.f_number},
                        {"transmit_weights", equal ? "equal" : "as_receive"}});
    std::vector<double> element_x_m;
    for (const Element& element : info.probe.elements) {
        element_x_m.push_back(element.center_m.x());
    }
    write_npy(folder, "element_x_m", element_x_m, {element_x_m.size()});
    write_npy(folder, "samples", scene.samples, {info.events.size(), info.channels, info.samples});
    write_events(folder, info);
    if (const auto* pixels = std::get_if<CartesianGrid>(&image.grid)) {
        write_npy(folder, "x_m", pixels->x_m, {pixels->x_m.size()});
        write_npy(folder, "depth_m", pixels->depth_m, {pixels->depth_m.size()});
        write_npy(folder, "product", interleaved(image), {image.columns, image.depths, 2});
    } else {
        const auto& depth_m = std::get<LineGrid>(image.grid).depth_m;
        write_npy(folder, "x_m", std::vector<double>(), {0});
        write_npy(folder, "depth_m", depth_m, {depth_m.size()});
        write_npy(folder, "product", image.real, {image.columns, image.depths});
    }
}

}  // namespace

void measure_image_twins(Bench& bench) {
    const bool compiled = python_has("numba");
    for (const ImageWorkload& workload : image_workloads()) {
        const ImageScene scene = load_image_scene(bench, workload, "linear");
        const std::filesystem::path folder = bench.temporary / workload.name;
        write_scene(folder, workload, scene, beamform(scene.info, scene.reader(), scene.recipe));
        const double fraction = bench.options.full || bench.options.quick ? 1.0 : workload.twin_fraction;
        std::vector<Twin> twins{{"NumPy", "plain_images.py", fraction, workload.twin_error, at_least(40.0)}};
        // Compiling takes seconds for each kind of image, so a quick run does it for one.
        if (compiled && (!bench.options.quick || &workload == &image_workloads().front())) {
            twins.push_back({"compiled Python", "plain_images_compiled.py", 1.0, workload.twin_error, at_least(15.0)});
        }
        const auto product = [&] { return seconds_of([&] { beamform(scene.info, scene.reader(), scene.recipe); }); };
        add_ratios(bench, "image_twins", workload.words + ", linear", product, folder, twins);
        std::filesystem::remove_all(folder);
    }
    if (!compiled) {
        bench.report.add({.group = "image_twins",
                          .stage = "times faster than compiled Python",
                          .workload = "not measured: python3-numba is not installed",
                          .unit = "x"});
    }
}

}  // namespace echoloom::benchmark
