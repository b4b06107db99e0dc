#include "sim/base/settings.h"

#include <toml++/toml.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <functional>
#include <map>
#include <set>
#include <sstream>
#include <utility>

#include "sim/base/settings_text.h"
#include "sim/base/text.h"

namespace echoloom {

struct Settings::Document {
    std::string file;
    std::string text;
    toml::table root;
    std::vector<Override> overrides;  ///< set from the command line
};

struct Settings::Node {
    const toml::table* table = nullptr;
    std::string path;  ///< dotted, empty at the top
    int line = 0;
    std::set<std::string, std::less<>> known;
    std::map<std::string, std::vector<std::shared_ptr<Node>>, std::less<>> opened;

    std::string dotted(std::string_view key) const {
        return path.empty() ? std::string(key) : path + '.' + std::string(key);
    }
};

namespace {

constexpr std::size_t largest_text = 16U << 20U;

std::string lower_first(std::string_view text) {
    std::string result(text);
    if (result.size() > 1 && result[0] >= 'A' && result[0] <= 'Z' && result[1] >= 'a') {
        result[0] = static_cast<char>(result[0] - 'A' + 'a');
    }
    return result;
}

toml::table parse(const std::string& text, const std::string& name) {
    try {
        return toml::parse(std::string_view(text));
    } catch (const toml::parse_error& error) {
        throw InputError({name, static_cast<int>(error.source().begin.line), ""}, lower_first(error.description()));
    }
}

/// What a value is, for "is ...; give ...".
std::string shown(const toml::node& node) {
    if (const auto* text = node.as_string()) {
        return "the text \"" + text->get() + '"';
    }
    if (const auto* whole = node.as_integer()) {
        return std::to_string(whole->get());
    }
    if (const auto* real = node.as_floating_point()) {
        return std::isnan(real->get()) ? "not a number (nan)" : plain(real->get());
    }
    if (const auto* flag = node.as_boolean()) {
        return flag->get() ? "true" : "false";
    }
    return node.is_table() ? "a table" : node.is_array() ? "a list" : "a date or time";
}

bool is_bare_word(std::string_view value) {
    return !value.empty() && value.find_first_of(" \t\r\n\"'[]{}=,#") == std::string_view::npos;
}

/// The TOML value that an override's text stands for, held under the key "value" of a table.
toml::table override_value(const Override& change) {
    const Place place{"--set", 0, change.owner + change.key};
    if (change.value.find_first_of("\r\n") != std::string::npos) {
        throw InputError(place, "the value holds a line break; give one TOML value");
    }
    try {
        toml::table parsed = toml::parse(std::string_view("value = " + change.value));
        if (parsed.size() == 1) {
            return parsed;
        }
    } catch (const toml::parse_error&) {
        if (is_bare_word(change.value)) {
            toml::table word;
            word.insert("value", change.value);
            return word;
        }
    }
    throw InputError(place,
                     "'" + change.value + "' is not a TOML value; give a number, true, false, \"text\" or a list");
}

std::vector<std::string> parts_of_key(const Override& change) {
    const std::string& dotted = change.key;
    std::vector<std::string> parts;
    std::istringstream stream(dotted);
    for (std::string part; std::getline(stream, part, '.');) {
        parts.push_back(part);
    }
    const bool empty_part = std::ranges::find(parts, "") != parts.end() || dotted.ends_with('.');
    if (parts.empty() || empty_part) {
        throw InputError({"--set", 0, change.owner + dotted}, "not a key; write key=value or table.key=value");
    }
    return parts;
}

/// The node that one part of a dotted key leads to inside `parent`; a missing table is made.
toml::node& step(toml::node& parent, const std::string& part, const Place& place) {
    if (auto* table = parent.as_table()) {
        return table->insert(part, toml::table{}).first->second;
    }
    auto* list = parent.as_array();
    if (list == nullptr) {
        throw InputError(place, "'" + part + "' would lie inside " + shown(parent) + ", which is not a table");
    }
    std::size_t index = 0;
    const bool number = part.find_first_not_of("0123456789") == std::string::npos && part.size() < 10;
    if (number) {
        index = std::stoul(part);
    }
    if (!number || index >= list->size()) {
        throw InputError(place, "no entry '" + part +
                                    "' in this list; the entries are numbered from 0, and there are " +
                                    std::to_string(list->size()));
    }
    return (*list)[index];
}

void apply(toml::table& root, const Override& change) {
    const std::vector<std::string> parts = parts_of_key(change);
    const Place place{"--set", 0, change.owner + change.key};
    toml::node* parent = &root;
    for (std::size_t i = 0; i + 1 < parts.size(); ++i) {
        parent = &step(*parent, parts[i], place);
    }
    toml::table holder = override_value(change);
    const toml::node& value = *holder.get("value");
    if (auto* table = parent->as_table()) {
        table->insert_or_assign(parts.back(), value);
        return;
    }
    step(*parent, parts.back(), place);  // refuses what is not an entry of a list
    auto* list = parent->as_array();
    list->replace(list->cbegin() + static_cast<std::ptrdiff_t>(std::stoul(parts.back())), value);
}

std::string read_text(const std::filesystem::path& path) {
    const std::string name = path.string();
    std::error_code error;
    const auto status = std::filesystem::status(path, error);
    if (status.type() == std::filesystem::file_type::not_found) {
        throw InputError({name}, "no such file");
    }
    if (std::filesystem::is_directory(status)) {
        throw InputError({name}, "this is a folder; give a settings file");
    }
    std::ifstream stream(path, std::ios::binary);
    std::string text;
    std::vector<char> block(1U << 16U);
    while (stream && text.size() <= largest_text) {
        stream.read(block.data(), static_cast<std::streamsize>(block.size()));
        text.append(block.data(), static_cast<std::size_t>(stream.gcount()));
    }
    if (text.size() > largest_text) {
        throw InputError({name}, "larger than " + human_bytes(largest_text) + "; this is no settings file");
    }
    if (!stream.eof()) {
        throw MachineError(at({name}, "cannot be read; check that the file exists and that you may read it"));
    }
    return text;
}

std::vector<std::string> words(std::span<const std::string_view> views) {
    return {views.begin(), views.end()};
}

/// The number in a node where it is one and keeps its range.
std::optional<double> checked_number(const toml::node& node, const Range& range) {
    const auto value = node.is_number() ? node.value<double>() : std::nullopt;
    return value && in_range(*value, range) ? value : std::nullopt;
}

}  // namespace

Settings::Settings(std::shared_ptr<Document> document, std::shared_ptr<Node> node)
    : document_(std::move(document)), node_(std::move(node)) {}

Settings Settings::from_file(const std::filesystem::path& path, std::span<const Override> overrides) {
    return from_text(read_text(path), path.string(), overrides);
}

Settings Settings::from_text(std::string text, std::string name, std::span<const Override> overrides) {
    auto document = std::make_shared<Document>();
    document->root = parse(text, name);
    document->file = std::move(name);
    document->text = std::move(text);
    if (!overrides.empty() && !document->text.empty() && !document->text.ends_with('\n')) {
        document->text += '\n';
    }
    for (const Override& change : overrides) {
        apply(document->root, change);
        document->text += "# set on the command line: " + change.key + " = " + change.value + '\n';
        document->overrides.push_back(change);
    }
    auto top = std::make_shared<Node>();
    top->table = &document->root;
    return {std::move(document), std::move(top)};
}

bool Settings::has(std::string_view key) const {
    node_->known.emplace(key);
    return node_->table->contains(key);
}

Place Settings::place(std::string_view key) const {
    const std::string dotted = node_->dotted(key);
    const auto found = node_->table->find(key);
    const bool there = found != node_->table->cend();
    const int line = there ? static_cast<int>(found->first.source().begin.line) : node_->line;
    for (const Override& change : document_->overrides) {
        const bool made_for_it = there && line == 0 && change.key.starts_with(dotted + '.');
        if (dotted == change.key || dotted.starts_with(change.key + '.') || made_for_it) {
            return {"--set", 0, change.owner + dotted};
        }
    }
    return {document_->file, line, dotted};
}

void Settings::fail(std::string_view key, const std::string& what) const {
    throw InputError(place(key), what);
}

/// Keys are suggested as they would be typed: bare in a file, with all that leads to them on the command line.
void Settings::fail_unknown(std::string_view key, std::span<const std::string> candidates) const {
    const Place where = place(key);
    const std::string lead = where.file == "--set" ? where.key.substr(0, where.key.size() - key.size()) : "";
    std::vector<std::string> typed;
    for (const std::string& candidate : candidates) {
        typed.push_back(lead + candidate);
    }
    // Nearness is judged without the lead, which is right already.
    const auto nearest = nearest_word(key, candidates);
    throw InputError(where,
                     "unknown key, " + (nearest ? "did you mean '" + lead + *nearest + "'?" : suggestion(key, typed)));
}

/// A key that nobody asked for and that is spelt nearly so is what was meant.
void Settings::fail_missing(std::string_view key, const std::string& wanted) const {
    std::vector<std::string> unasked;
    for (const auto& [present, value] : *node_->table) {
        if (!node_->known.contains(present.str())) {
            unasked.emplace_back(present.str());
        }
    }
    if (const auto misspelt = nearest_word(key, unasked)) {
        const std::string meant(key);
        fail_unknown(*misspelt, {&meant, 1});
    }
    fail(key, "missing; " + wanted);
}

std::optional<double> Settings::number_if(std::string_view key, Range range) {
    if (!has(key)) {
        return std::nullopt;
    }
    const toml::node& node = *node_->table->get(key);
    if (const auto value = checked_number(node, range)) {
        return value;
    }
    fail(key, "is " + shown(node) + "; give " + wanted_number(key, range));
}

double Settings::number(std::string_view key, Range range) {
    if (const auto value = number_if(key, range)) {
        return *value;
    }
    fail_missing(key, "give " + wanted_number(key, range));
}

double Settings::number_or(std::string_view key, double fallback, Range range) {
    return number_if(key, range).value_or(fallback);
}

long long Settings::integer(std::string_view key, long long least, long long most) {
    const std::string wanted = wanted_integer(key, least, most);
    if (!has(key)) {
        fail_missing(key, "give " + wanted);
    }
    const toml::node& node = *node_->table->get(key);
    if (const auto* whole = node.as_integer(); whole != nullptr && whole->get() >= least && whole->get() <= most) {
        return whole->get();
    }
    fail(key, "is " + shown(node) + "; give " + wanted);
}

long long Settings::integer_or(std::string_view key, long long fallback, long long least, long long most) {
    return has(key) ? integer(key, least, most) : fallback;
}

bool Settings::flag_or(std::string_view key, bool fallback) {
    if (!has(key)) {
        return fallback;
    }
    const toml::node& node = *node_->table->get(key);
    if (const auto* flag = node.as_boolean()) {
        return flag->get();
    }
    fail(key, "is " + shown(node) + "; give true or false");
}

std::string Settings::text(std::string_view key) {
    if (!has(key)) {
        fail_missing(key, "give a text in quotes");
    }
    const toml::node& node = *node_->table->get(key);
    if (const auto* value = node.as_string()) {
        return value->get();
    }
    fail(key, "is " + shown(node) + "; give a text in quotes");
}

std::string Settings::text_or(std::string_view key, std::string fallback) {
    return has(key) ? text(key) : std::move(fallback);
}

std::string Settings::one_of(std::string_view key, std::span<const std::string_view> allowed) {
    const std::vector<std::string> candidates = words(allowed);
    std::string list;
    for (const std::string& word : candidates) {
        list += (list.empty() ? "\"" : ", \"") + word + '"';
    }
    if (!has(key)) {
        fail_missing(key, "give one of " + list);
    }
    const toml::node& node = *node_->table->get(key);
    const auto* value = node.as_string();
    if (value != nullptr && std::ranges::find(candidates, value->get()) != candidates.end()) {
        return value->get();
    }
    std::string what = "is " + shown(node) + "; give one of " + list;
    if (const auto nearest = value != nullptr ? nearest_word(value->get(), candidates) : std::nullopt) {
        what += "; did you mean '" + *nearest + "'?";
    }
    fail(key, what);
}

std::string Settings::one_of_or(std::string_view key, std::string_view fallback,
                                std::span<const std::string_view> allowed) {
    return has(key) ? one_of(key, allowed) : std::string(fallback);
}

std::vector<double> Settings::numbers(std::string_view key, Range range, std::size_t count) {
    const std::string each = wanted_number(key, range);
    const std::string wanted =
        (count == 0 ? "a list of numbers" : "a list of " + std::to_string(count) + " numbers") + ", each " + each;
    if (!has(key)) {
        fail_missing(key, "give " + wanted);
    }
    const toml::node& node = *node_->table->get(key);
    std::vector<double> values;
    if (const auto* list = node.as_array()) {
        for (std::size_t i = 0; i < list->size(); ++i) {
            const toml::node& entry = (*list)[i];
            const auto value = checked_number(entry, range);
            if (!value) {
                Place where = place(key);
                where.line = where.line > 0 ? static_cast<int>(entry.source().begin.line) : 0;
                throw InputError(where, "entry " + std::to_string(i) + " is " + shown(entry) + "; give " + each);
            }
            values.push_back(*value);
        }
    } else if (const auto value = checked_number(node, range)) {
        values.push_back(*value);
    } else {
        fail(key, "is " + shown(node) + "; give " + wanted);
    }
    if (count != 0 && values.size() != count) {
        fail(key, "holds " + counted(values.size(), "number") + "; give " + wanted);
    }
    return values;
}

std::vector<double> Settings::numbers_or(std::string_view key, std::vector<double> fallback, Range range,
                                         std::size_t count) {
    return has(key) ? numbers(key, range, count) : std::move(fallback);
}

std::optional<Settings> Settings::table_if(std::string_view key) {
    if (!has(key)) {
        return std::nullopt;
    }
    const toml::node& node = *node_->table->get(key);
    const auto* table = node.as_table();
    if (table == nullptr) {
        fail(key, "is " + shown(node) + "; write a table [" + node_->dotted(key) + "]");
    }
    auto& opened = node_->opened[std::string(key)];
    if (opened.empty()) {
        opened.push_back(std::make_shared<Node>(Node{table, node_->dotted(key), place(key).line, {}, {}}));
    }
    return Settings(document_, opened.front());
}

Settings Settings::table(std::string_view key) {
    if (auto settings = table_if(key)) {
        return *settings;
    }
    fail_missing(key, "write a table [" + node_->dotted(key) + "]");
}

std::vector<Settings> Settings::tables(std::string_view key) {
    if (!has(key)) {
        return {};
    }
    const std::string wanted = "write each as [[" + node_->dotted(key) + "]]";
    const toml::node& node = *node_->table->get(key);
    const auto* list = node.as_array();
    if (list == nullptr) {
        fail(key, "is " + shown(node) + "; " + wanted);
    }
    auto& opened = node_->opened[std::string(key)];
    if (opened.empty()) {
        for (std::size_t i = 0; i < list->size(); ++i) {
            const auto* table = (*list)[i].as_table();
            if (table == nullptr) {
                fail(key, "entry " + std::to_string(i) + " is " + shown((*list)[i]) + "; " + wanted);
            }
            const int line = static_cast<int>(table->source().begin.line);
            opened.push_back(
                std::make_shared<Node>(Node{table, node_->dotted(key) + '.' + std::to_string(i), line, {}, {}}));
        }
    }
    std::vector<Settings> result;
    for (const auto& entry : opened) {
        result.push_back(Settings(document_, entry));
    }
    return result;
}

void Settings::finish() const {
    struct Unknown {
        Place place;
        std::string key;
        std::shared_ptr<Node> node;
    };
    std::vector<Unknown> unknown;
    std::vector<std::shared_ptr<Node>> pending{node_};
    while (!pending.empty()) {
        const std::shared_ptr<Node> node = pending.back();
        pending.pop_back();
        for (const auto& [key, value] : *node->table) {
            const auto opened = node->opened.find(key.str());
            if (opened != node->opened.end()) {
                pending.insert(pending.end(), opened->second.begin(), opened->second.end());
            } else if (!node->known.contains(key.str()) || value.is_table()) {
                unknown.push_back({Settings(document_, node).place(key.str()), std::string(key.str()), node});
            }
        }
    }
    if (unknown.empty()) {
        return;
    }
    const Unknown& first = *std::ranges::min_element(unknown, {}, [](const Unknown& u) { return u.place.line; });
    const std::vector<std::string> known(first.node->known.begin(), first.node->known.end());
    Settings(document_, first.node).fail_unknown(first.key, known);
}

const std::string& Settings::source_text() const {
    return document_->text;
}

std::filesystem::path Settings::file() const {
    return document_->file;
}

}  // namespace echoloom
