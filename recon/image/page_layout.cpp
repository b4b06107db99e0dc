#include "recon/image/page_layout.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <utility>

#include "recon/image/angle_scale.h"
#include "recon/image/axis.h"
#include "recon/image/scan_conversion.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;

int rounded(double value) {
    return static_cast<int>(std::lround(value));
}

double longest_side_m(const PageContent& content) {
    double longest = 0.0;
    for (const PanelContent& panel : content.panels) {
        longest = std::max({longest, panel.extent.width_m(), panel.extent.height_m()});
    }
    return longest;
}

/// Builds one page for a given number of columns and a given scale, from top to bottom.
class Builder {
  public:
    Builder(const PageContent& content, const PageLimits& limits, const Fonts& fonts, int columns, double pixels_per_m)
        : content_(content),
          limits_(limits),
          fonts_(fonts),
          columns_(columns),
          line_(fonts.regular.line_height(limits.text_size)) {
        page_.pixels_per_m = pixels_per_m;
        for (int index = 0; index < count(); ++index) {
            add_angle_scale(panel(index));
        }
        // Labels each 10 mm wherever a panel is at least three such steps long and they do not crowd.
        const double longest_mm = longest_side_m(content) / mm;
        const double ordinary = longest_mm >= 30.0 ? 10.0 : round_step(longest_mm / 8.0);
        const double em_mm = em(1.0) / (pixels_per_m * mm);
        depth_step_mm_ = two_labels(
            round_step(std::max(1.7 * em_mm, ordinary)), [&](int index) { return depth_edge(index); },
            [&](double) { return line_; });
        lateral_step_mm_ = two_labels(
            round_step(std::max(2.6 * em_mm, ordinary)), [&](int index) { return lateral_edge(index); },
            [&](double step) {
                int widest = 0;
                for (int index = 0; index < count(); ++index) {
                    const auto [least, most] = lateral_edge(index);
                    widest = std::max(widest, widest_label(ruled_edge(least, most, step, step), step));
                }
                return widest + em(0.15);
            });
    }

    PageLayout build() {
        place_columns();
        int y = margin();
        if (!content_.heading.empty()) {
            y = place_block(content_.heading, fonts_.bold, true, em(1.2), 2, y) + em(0.6);
        }
        const int rows = (count() + columns_ - 1) / columns_;
        for (int row = 0; row < rows; ++row) {
            y = place_row(row, y) + em(0.7);
        }
        y = place_second_bar(place_bar(y)) + em(0.4);
        if (!content_.caption.empty()) {
            y = place_block(content_.caption, fonts_.regular, false, limits_.min_text_size, 4, y) + em(0.15);
        }
        y = place_block(content_.caution, fonts_.regular, false, limits_.min_text_size, 4, y);
        page_.height = y + em(0.7);
        return std::move(page_);
    }

  private:
    int em(double ems) const { return rounded(ems * limits_.text_size); }
    int margin() const { return em(1.0); }
    int count() const { return static_cast<int>(content_.panels.size()); }
    const PanelContent& panel(int index) const { return content_.panels[static_cast<std::size_t>(index)]; }
    const Extent& extent(int index) const { return page_.extents[static_cast<std::size_t>(index)]; }
    int image_width(int index) const { return pixel_count(extent(index).width_m(), page_.pixels_per_m); }
    int image_height(int index) const { return pixel_count(extent(index).height_m(), page_.pixels_per_m); }

    int text_width(const std::string& text) const {
        return static_cast<int>(std::ceil(fonts_.regular.text_width(text, limits_.text_size)));
    }

    void add_text(const Rect& box, const std::string& text, Align align) {
        page_.texts.push_back({box, {text}, limits_.text_size, align, false, false});
    }

    // Axes

    /// Works out a panel's scale of degrees and widens the panel's extent to hold it.
    void add_angle_scale(const PanelContent& panel) {
        const double scale = page_.pixels_per_m;
        angles_.push_back(angle_marks(panel.fan, panel.extent, scale, fonts_.regular, limits_.text_size));
        // Whole pixels, so that what was scanned keeps its place to a fraction of one.
        double left = 0.0;
        double top = 0.0;
        double right = 0.0;
        double bottom = 0.0;
        const double spare = em(0.2);
        const auto hold = [&](double from_x, double from_y, double to_x, double to_y) {
            left = std::max(left, std::ceil(spare - from_x));
            top = std::max(top, std::ceil(spare - from_y));
            right = std::max(right, std::ceil(to_x + spare - panel.extent.width_m() * scale));
            bottom = std::max(bottom, std::ceil(to_y + spare - panel.extent.height_m() * scale));
        };
        for (const AngleMark& mark : angles_.back()) {
            hold(mark.to.x, mark.to.y, mark.to.x, mark.to.y);
            if (!mark.label.empty()) {
                hold(mark.box.x, mark.box.y, mark.box.right(), mark.box.bottom());
            }
        }
        Extent wide = panel.extent;
        wide.min_x_m -= left / scale;
        wide.min_z_m -= top / scale;
        wide.max_x_m += right / scale;
        wide.max_z_m += bottom / scale;
        page_.extents.push_back(wide);
    }

    void place_angle_scale(int index, const Rect& image) {
        const double x = image.x + (panel(index).extent.min_x_m - extent(index).min_x_m) * page_.pixels_per_m;
        const double y = image.y + (panel(index).extent.min_z_m - extent(index).min_z_m) * page_.pixels_per_m;
        for (const AngleMark& mark : angles_[static_cast<std::size_t>(index)]) {
            page_.angle_ticks.push_back({{mark.from.x + x, mark.from.y + y}, {mark.to.x + x, mark.to.y + y}});
            if (!mark.label.empty()) {
                const Rect box{mark.box.x + rounded(x), mark.box.y + rounded(y), mark.box.width, mark.box.height};
                page_.angle_labels.push_back({box, {mark.label}, limits_.text_size, Align::centre, false, false});
            }
        }
    }

    double min_gap_mm() const { return 5.0 / (page_.pixels_per_m * mm); }

    /// From where to where, in mm.
    struct Edge {
        double least, most;
    };
    Edge depth_edge(int index) const { return {extent(index).min_z_m / mm, extent(index).max_z_m / mm}; }
    Edge lateral_edge(int index) const { return {extent(index).min_x_m / mm, extent(index).max_x_m / mm}; }

    /// A finer step than `step` where some panel would else carry fewer than two labels and those of the finer step,
    /// `length_of(step)` pixels long, have room.
    template <typename EdgeOf, typename LengthOf>
    double two_labels(double step, EdgeOf edge_of, LengthOf length_of) const {
        const auto too_few = [&](double tried) {
            for (int index = 0; index < count(); ++index) {
                const Edge edge = edge_of(index);
                if (ruled_edge(edge.least, edge.most, tried, tried).size() < 2) {
                    return true;
                }
            }
            return false;
        };
        while (too_few(step)) {
            const double finer = round_step(0.4 * step);  // 10, 5, 2, 1
            if (finer * mm * page_.pixels_per_m < length_of(finer)) {
                break;
            }
            step = finer;
        }
        return step;
    }

    std::vector<Tick> depth_ticks(int index) const {
        const auto [least, most] = depth_edge(index);
        return ruled_edge(least, most, depth_step_mm_, min_gap_mm());
    }

    std::vector<Tick> lateral_ticks(int index) const {
        const auto [least, most] = lateral_edge(index);
        return ruled_edge(least, most, lateral_step_mm_, min_gap_mm());
    }

    int widest_label(const std::vector<Tick>& ticks, double step) const {
        int widest = 0;
        for (const Tick& tick : ticks) {
            if (tick.kind == TickKind::labelled) {
                widest = std::max(widest, text_width(tick_label(tick.value, step)));
            }
        }
        return widest;
    }

    int tick_length(TickKind kind) const {
        return em(kind == TickKind::labelled ? 0.42 : kind == TickKind::half ? 0.3 : 0.18);
    }
    int tick_width(TickKind kind) const { return kind == TickKind::labelled ? std::max(2, em(0.07)) : 1; }

    /// Depths are labelled at the left end of a row and wherever the labels of the panel before would not serve: where
    /// it starts elsewhere, or ends more than half a division away.
    bool labels_depth(int index) const {
        if (index % columns_ == 0) {
            return true;
        }
        const Extent& before = extent(index - 1);
        const Extent& own = extent(index);
        return std::abs(own.min_z_m - before.min_z_m) * page_.pixels_per_m > 0.5 ||
               std::abs(own.max_z_m - before.max_z_m) > 0.5 * depth_step_mm_ * mm;
    }

    /// Room for the depth axis at the left of a panel.
    int depth_axis_width(int index) const {
        const int ticks = tick_length(TickKind::labelled);
        return labels_depth(index)
                   ? line_ + em(0.3) + widest_label(depth_ticks(index), depth_step_mm_) + em(0.2) + ticks
                   : ticks;
    }

    /// Half a lateral label sticks out on either side of a panel.
    int overhang(int index) const { return widest_label(lateral_ticks(index), lateral_step_mm_) / 2 + 1; }

    void place_depth_axis(int index, const Rect& image) {
        for (const Tick& tick : depth_ticks(index)) {
            const int y = image.y + rounded((tick.value * mm - extent(index).min_z_m) * page_.pixels_per_m);
            const int length = tick_length(tick.kind);
            page_.ticks.push_back({image.x - length, y - tick_width(tick.kind) / 2, length, tick_width(tick.kind)});
            if (tick.kind == TickKind::labelled && labels_depth(index)) {
                const std::string label = tick_label(tick.value, depth_step_mm_);
                const int width = text_width(label);
                add_text({image.x - length - em(0.2) - width, y - line_ / 2, width, line_}, label, Align::right);
            }
        }
        if (labels_depth(index)) {
            const std::string& name = content_.vertical_name;
            const int along = text_width(name);
            const Rect box{image.x - depth_axis_width(index), image.y + (image.height - along) / 2, line_, along};
            page_.texts.push_back({box, {name}, limits_.text_size, Align::centre, false, true});
        }
    }

    /// Returns the y below the axis.
    int place_lateral_axis(int index, const Rect& image) {
        // Below the lower half of a depth label that stands in the corner.
        const int labels_y = image.bottom() + std::max(tick_length(TickKind::labelled), line_ / 2) + em(0.05);
        for (const Tick& tick : lateral_ticks(index)) {
            const int x = image.x + rounded((tick.value * mm - extent(index).min_x_m) * page_.pixels_per_m);
            const int width = tick_width(tick.kind);
            page_.ticks.push_back({x - width / 2, image.bottom(), width, tick_length(tick.kind)});
            if (tick.kind == TickKind::labelled) {
                const std::string label = tick_label(tick.value, lateral_step_mm_);
                add_text({x - text_width(label) / 2, labels_y, text_width(label), line_}, label, Align::centre);
            }
        }
        const std::string& name = content_.horizontal_name;
        const int width = text_width(name);
        const int x = std::max(image.x + (image.width - width) / 2, image.x - overhang(index));
        add_text({x, labels_y + line_, width, line_}, name, Align::centre);
        return labels_y + 2 * line_;
    }

    // Panels

    void place_columns() {
        int x = margin();
        for (int column = 0; column < columns_; ++column) {
            int before = 0;
            int across = em(9.0);
            int after = 0;
            for (int index = column; index < count(); index += columns_) {
                before = std::max({before, depth_axis_width(index), overhang(index)});
                across = std::max(across, image_width(index));
                after = std::max(after, overhang(index));
            }
            column_left_.push_back(x);
            column_x_.push_back(x + before);
            x += before + across + after + em(column + 1 < columns_ ? 0.4 : 0.0);
        }
        page_.width = std::max(x + margin() / 2, em(28.0));
    }

    int place_row(int row, int y) {
        const int first = row * columns_;
        const int last = std::min(first + columns_, count());
        std::vector<FittedText> titles;
        int title_height = 0;
        for (int index = first; index < last; ++index) {
            titles.push_back(balanced(fonts_.bold, fit_text(fonts_.bold, panel(index).title, title_width(index),
                                                            limits_.text_size, limits_.min_text_size, 4)));
            title_height = std::max({title_height, block_height(fonts_.bold, titles.back()),
                                     panel(index).letter.empty() ? 0 : badge_side()});
        }
        int bottom = y;
        for (int index = first; index < last; ++index) {
            place_title(index, titles[static_cast<std::size_t>(index - first)], y + title_height);
            const Rect image{column_x_[static_cast<std::size_t>(index - first)],
                             y + title_height + em(0.35) + drop(index, first, last), image_width(index),
                             image_height(index)};
            page_.images.push_back(image);
            place_angle_scale(index, image);
            place_depth_axis(index, image);
            bottom = std::max(bottom, place_lateral_axis(index, image));
        }
        return bottom;
    }

    /// Pixels by which a panel stands lower than the row, so that equal depths stand at one height; none where that
    /// would leave much of the row empty.
    int drop(int index, int first, int last) const {
        constexpr double max_empty = 0.15;
        double min_m = extent(first).min_z_m;
        double latest_m = min_m;
        double height_m = 0.0;
        for (int other = first; other < last; ++other) {
            min_m = std::min(min_m, extent(other).min_z_m);
            latest_m = std::max(latest_m, extent(other).min_z_m);
            height_m = std::max(height_m, extent(other).height_m());
        }
        const bool worth_it = latest_m - min_m < max_empty * height_m;
        return worth_it ? rounded((extent(index).min_z_m - min_m) * page_.pixels_per_m) : 0;
    }

    int badge_side() const { return fonts_.bold.line_height(limits_.text_size); }
    int title_indent(int index) const { return panel(index).letter.empty() ? 0 : badge_side() + em(0.4); }

    /// A title may run up to the next column's axis; the last one of a row to the margin.
    int title_width(int index) const {
        const auto column = static_cast<std::size_t>(index % columns_);
        const int end = column + 1 == column_x_.size() ? page_.width - margin() : column_left_[column + 1];
        return end - column_x_[column] - title_indent(index);
    }

    /// Letter and title so that the title's last line ends at `bottom`.
    void place_title(int index, const FittedText& title, int bottom) {
        const int x = column_x_[static_cast<std::size_t>(index % columns_)];
        const int height = block_height(fonts_.bold, title);
        page_.texts.push_back({{x + title_indent(index), bottom - height, title_width(index), height},
                               title.lines,
                               title.size,
                               Align::left,
                               true,
                               false});
        if (!panel(index).letter.empty()) {
            page_.badges.push_back({{x, bottom - std::max(height, badge_side()), badge_side(), badge_side()},
                                    {panel(index).letter},
                                    limits_.text_size,
                                    Align::centre,
                                    true,
                                    false});
        }
    }

    // What runs along the page

    static int block_height(const Font& font, const FittedText& text) {
        return font.line_height(text.size) * static_cast<int>(text.lines.size());
    }

    /// Text from the first panel's edge to the margin; returns the y below it.
    int place_block(const std::string& text, const Font& font, bool bold, double size, int max_lines, int y) {
        const int x = column_x_.front();
        const int width = page_.width - margin() - x;
        const FittedText fitted =
            fit_text(font, text, width, std::max(size, limits_.min_text_size), limits_.min_text_size, max_lines);
        const int height = block_height(font, fitted);
        page_.texts.push_back({{x, y, width, height}, fitted.lines, fitted.size, Align::left, bold, false});
        return y + height;
    }

    static std::string level_label(double level_dB) {
        return tick_label(level_dB, std::abs(level_dB - std::round(level_dB)) < 0.05 ? 1.0 : 0.1);
    }

    /// Labelled levels of the grey bar: both ends, and the round ones between that do not crowd them.
    std::vector<double> bar_levels(double pixels_per_dB) const {
        const GreyScale& scale = content_.scale;
        const double min_gap_dB = 2.7 * em(1.0) / pixels_per_dB;
        const double step = std::max(scale.range_dB > 25.0 ? 10.0 : 5.0, round_step(min_gap_dB));
        std::vector<double> levels{scale.black_dB()};
        for (const Tick& tick : ruled_edge(scale.black_dB(), scale.white_dB, step, step)) {
            if (std::min(tick.value - scale.black_dB(), scale.white_dB - tick.value) >= min_gap_dB) {
                levels.push_back(tick.value);
            }
        }
        levels.push_back(scale.white_dB);
        return levels;
    }

    /// A bar with its labels below and its name to the right; returns the y below it.
    int place_scale(Rect& bar, const std::string& name, int half_label, int y,
                    const std::function<std::vector<std::pair<double, std::string>>(int width)>& labels) {
        const int name_width = text_width(name) + 1;
        const int room = page_.width - margin() - column_x_.front() - name_width - half_label - em(0.8);
        bar = {column_x_.front(), y, std::clamp(room, em(8.0), em(20.0)), em(0.9)};
        const int name_x = bar.right() + half_label + em(0.3);
        const FittedText fitted = fit_text(fonts_.regular, name, page_.width - margin() - name_x, limits_.text_size,
                                           limits_.min_text_size, 2);
        const int name_y = fitted.lines.size() == 1 ? y + (bar.height - line_) / 2 : y;
        page_.texts.push_back({{name_x, name_y, page_.width - margin() - name_x, block_height(fonts_.regular, fitted)},
                               fitted.lines,
                               fitted.size,
                               Align::left,
                               false,
                               false});
        const int length = tick_length(TickKind::labelled);
        for (const auto& [fraction, label] : labels(bar.width)) {
            const int x = bar.x + rounded(fraction * bar.width);
            const int width = tick_width(TickKind::labelled);
            page_.ticks.push_back({x - width / 2, bar.bottom() + 1, width, length});
            add_text({x - text_width(label) / 2, bar.bottom() + 1 + length, text_width(label), line_}, label,
                     Align::centre);
        }
        return bar.bottom() + 1 + length + line_;
    }

    int place_bar(int y) {
        const GreyScale& scale = content_.scale;
        const int half_label =
            std::max(text_width(level_label(scale.black_dB())), text_width(level_label(scale.white_dB))) / 2 + 1;
        return place_scale(page_.bar, content_.scale_name, half_label, y, [&](int width) {
            std::vector<std::pair<double, std::string>> labels;
            for (const double level_dB : bar_levels(width / scale.range_dB)) {
                labels.emplace_back((level_dB - scale.black_dB()) / scale.range_dB, level_label(level_dB));
            }
            return labels;
        });
    }

    bool crowded(const std::vector<std::pair<double, std::string>>& labels, int width) const {
        for (std::size_t n = 1; n < labels.size(); ++n) {
            const double apart = (labels[n].first - labels[n - 1].first) * width;
            if (apart < 0.5 * (text_width(labels[n].second) + text_width(labels[n - 1].second)) + em(0.5)) {
                return true;
            }
        }
        return false;
    }

    int place_second_bar(int y) {
        if (!content_.second_bar) {
            return y;
        }
        const ScaleBar& scale = *content_.second_bar;
        const int half_label = text_width(scale.labels.back().second) / 2 + 1;
        return place_scale(page_.second_bar, scale.name, half_label, y + em(0.4), [&](int width) {
            std::vector<std::pair<double, std::string>> some = scale.labels;
            while (some.size() > 3 && crowded(some, width)) {  // every other one, the ends stay
                std::vector<std::pair<double, std::string>> fewer;
                for (std::size_t n = 0; n < some.size(); n += 2) {
                    fewer.push_back(some[n]);
                }
                fewer.back() = some.back();
                some = fewer;
            }
            return some;
        });
    }

    const PageContent& content_;
    const PageLimits& limits_;
    const Fonts& fonts_;
    int columns_;
    int line_;
    double depth_step_mm_ = 10.0;
    double lateral_step_mm_ = 10.0;
    std::vector<int> column_left_;                ///< of its axis
    std::vector<int> column_x_;                   ///< of its images
    std::vector<std::vector<AngleMark>> angles_;  ///< [panel]
    PageLayout page_;
};

/// The largest page of so many columns within the limits, by bisection of its scale.
PageLayout largest(const PageContent& content, const PageLimits& limits, const Fonts& fonts, int columns) {
    const double longest_m = longest_side_m(content);
    const auto build = [&](double scale) { return Builder(content, limits, fonts, columns, scale).build(); };
    const auto fits = [&](const PageLayout& page) {
        return page.width <= limits.max_width && page.height <= limits.max_height;
    };
    double above = std::max(limits.max_pixels_per_mm / mm, limits.min_longest_side / longest_m);
    PageLayout page = build(above);
    if (fits(page)) {
        return page;
    }
    double below = 20.0 / longest_m;
    page = build(below);
    for (int halving = 0; halving < 16; ++halving) {
        const double middle = 0.5 * (below + above);
        PageLayout tried = build(middle);
        if (fits(tried)) {
            below = middle;
            page = std::move(tried);
        } else {
            above = middle;
        }
    }
    return page;
}

}  // namespace

PageLayout lay_out(const PageContent& content, const PageLimits& limits, const Fonts& fonts) {
    constexpr double worth_another_row = 1.15;
    const int count = static_cast<int>(content.panels.size());
    PageLayout best = largest(content, limits, fonts, count);
    for (int rows = 2; rows <= count; ++rows) {
        PageLayout page = largest(content, limits, fonts, (count + rows - 1) / rows);
        if (page.pixels_per_m >= worth_another_row * best.pixels_per_m) {
            best = std::move(page);
        }
    }
    return best;
}

}  // namespace echoloom
