// The one place that compiles the bodies of the stb libraries. Debian keeps them in the system's include folder, so
// that our warnings do not apply to them.
#define STB_TRUETYPE_IMPLEMENTATION
#define STB_IMAGE_WRITE_IMPLEMENTATION
#define STBI_WRITE_NO_STDIO
#include <stb/stb_image_write.h>
#include <stb/stb_truetype.h>
