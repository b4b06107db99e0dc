#include "recon/image/panel_captions.h"

#include <algorithm>
#include <filesystem>
#include <functional>
#include <optional>

#include "recon/image/compose.h"
#include "recon/image/description.h"
#include "recon/image/frame_rate.h"
#include "recon/image/scan_captions.h"

namespace echoloom {

namespace {

using Captions = std::vector<std::string>;

Captions of_each(std::span<const Image> images, const std::function<std::string(const Image&)>& caption) {
    Captions all;
    std::ranges::transform(images, std::back_inserter(all), caption);
    return all;
}

bool alike(const Captions& captions) {
    return std::ranges::all_of(captions, [&](const std::string& other) { return other == captions.front(); });
}

std::string probe_caption(const Image& image) {
    return describe_probe(image.recording.probe);
}
std::string scan_caption(const Image& image) {
    return describe_scan(image.recording);
}
std::string rate_caption(const Image& image) {
    return frame_rate_caption(image.recording);
}

/// A name is shorter than the array's description, and clearer where the names differ.
Captions short_probe_captions(std::span<const Image> images) {
    const Captions names = of_each(images, [](const Image& image) { return image.recording.probe.name; });
    const bool all_named = std::ranges::none_of(names, &std::string::empty);
    return all_named && !alike(names) ? names : of_each(images, probe_caption);
}

void join(std::string& caption, const std::string& more) {
    if (!more.empty()) {
        caption += (caption.empty() ? "" : "; ") + more;
    }
}

}  // namespace

std::vector<std::string> panel_titles(std::span<const Image> images, std::span<const std::string> names) {
    Captions titles(images.size());
    for (const Captions& part :
         {short_probe_captions(images), of_each(images, scan_caption), of_each(images, title_of)}) {
        for (std::size_t i = 0; i < images.size() && !alike(part); ++i) {
            join(titles[i], part[i]);
        }
    }
    if (std::ranges::all_of(titles, &std::string::empty)) {
        titles = of_each(images, title_of);
    }
    const Captions plain = titles;
    for (std::size_t i = 0; i < std::min(titles.size(), names.size()); ++i) {
        if (std::ranges::count(plain, plain[i]) > 1) {
            join(titles[i], std::filesystem::path(names[i]).stem().string());
        }
    }
    return titles;
}

std::string shared_caption(std::span<const Image> images) {
    std::string caption;
    for (const Captions& part :
         {of_each(images, probe_caption), of_each(images, scan_caption), of_each(images, rate_caption)}) {
        join(caption, alike(part) ? part.front() : "");
    }
    const Captions rates = of_each(images, rate_caption);
    if (!alike(rates)) {
        char letter = 'A';
        for (const std::string& rate : rates) {
            join(caption, rate.empty() ? "" : std::string(1, letter) + ": " + rate);
            ++letter;
        }
    }
    return caption.empty() ? "" : caption + ".";
}

}  // namespace echoloom
