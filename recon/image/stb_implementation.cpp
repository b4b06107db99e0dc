// The one place that compiles the body of stb_truetype. Debian keeps it in the system's include folder, so that our
// warnings do not apply to it.
#define STB_TRUETYPE_IMPLEMENTATION
#include <stb/stb_truetype.h>
