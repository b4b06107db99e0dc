#pragma once
/// Folders that only the build knows. In a file of their own, which alone is compiled anew where they change.

namespace echoloom {

struct BuiltPlaces {
    const char* source;        ///< the sources' folder
    const char* build;         ///< the build folder
    const char* installed;     ///< the program's own files, once installed
    const char* from_program;  ///< the same, as seen from the installed program's folder
};

extern const BuiltPlaces built_places;

}  // namespace echoloom
