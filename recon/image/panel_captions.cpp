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

using Words = std::vector<std::string>;

Words of_each(std::span<const Image> images, const std::function<std::string(const Image&)>& words) {
    Words all;
    std::ranges::transform(images, std::back_inserter(all), words);
    return all;
}

bool alike(const Words& words) {
    return std::ranges::all_of(words, [&](const std::string& other) { return other == words.front(); });
}

std::string probe_words(const Image& image) {
    return describe_probe(image.recording.probe);
}
std::string scan_words(const Image& image) {
    return describe_scan(image.recording);
}
std::string rate_words(const Image& image) {
    return frame_rate_caption(image.recording);
}

/// A name says more in less room than the array's description, where the names differ.
Words short_probe_words(std::span<const Image> images) {
    const Words names = of_each(images, [](const Image& image) { return image.recording.probe.name; });
    const bool all_named = std::ranges::none_of(names, &std::string::empty);
    return all_named && !alike(names) ? names : of_each(images, probe_words);
}

void join(std::string& words, const std::string& more) {
    if (!more.empty()) {
        words += (words.empty() ? "" : "; ") + more;
    }
}

}  // namespace

std::vector<std::string> panel_titles(std::span<const Image> images, std::span<const std::string> names) {
    Words titles(images.size());
    for (const Words& part : {short_probe_words(images), of_each(images, scan_words), of_each(images, title_of)}) {
        for (std::size_t i = 0; i < images.size() && !alike(part); ++i) {
            join(titles[i], part[i]);
        }
    }
    if (std::ranges::all_of(titles, &std::string::empty)) {
        titles = of_each(images, title_of);
    }
    const Words plain = titles;
    for (std::size_t i = 0; i < std::min(titles.size(), names.size()); ++i) {
        if (std::ranges::count(plain, plain[i]) > 1) {
            join(titles[i], std::filesystem::path(names[i]).stem().string());
        }
    }
    return titles;
}

std::string shared_caption(std::span<const Image> images) {
    std::string words;
    for (const Words& part : {of_each(images, probe_words), of_each(images, scan_words), of_each(images, rate_words)}) {
        join(words, alike(part) ? part.front() : "");
    }
    const Words rates = of_each(images, rate_words);
    if (!alike(rates)) {
        char letter = 'A';
        for (const std::string& rate : rates) {
            join(words, rate.empty() ? "" : std::string(1, letter) + ": " + rate);
            ++letter;
        }
    }
    return words.empty() ? "" : words + ".";
}

}  // namespace echoloom
