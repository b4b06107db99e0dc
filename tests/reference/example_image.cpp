// A reconstruction in C++ that is not ours: reads a recording of plane waves by HDF5's own library, forms an image and
// writes it by the contract of sim/recording/format.md.
//
//     g++ -std=c++20 -O2 example_image.cpp $(pkg-config --cflags --libs hdf5) -lhdf5_hl -o example_image
//     ./example_image recording.h5 image.h5

#include <hdf5.h>
#include <hdf5_hl.h>

#include <cmath>
#include <string>
#include <vector>

/// All numbers of a dataset, C order; `size` is filled with its extents.
std::vector<double> read(hid_t file, const char* name, std::vector<hsize_t>& size) {
    int dimensions = 0;
    H5LTget_dataset_ndims(file, name, &dimensions);
    size.resize(static_cast<std::size_t>(dimensions));
    H5LTget_dataset_info(file, name, size.data(), nullptr, nullptr);
    hsize_t count = 1;
    for (const hsize_t extent : size) {
        count *= extent;
    }
    std::vector<double> values(count);
    H5LTread_dataset_double(file, name, values.data());
    return values;
}

int main(int, char** words) {
    const hid_t recording = H5Fopen(words[1], H5F_ACC_RDONLY, H5P_DEFAULT);
    std::vector<hsize_t> shape, other;
    const auto rf = read(recording, "receive/rf", shape);  // [event, channel, sample]
    const auto receivers = read(recording, "receive/element", other);
    const auto rate = read(recording, "receive/sampling_rate_Hz", other)[0];
    const auto start_s = read(recording, "receive/start_time_s", other);
    const auto center_Hz = read(recording, "probe/center_Hz", other)[0];
    const auto place_m = read(recording, "probe/element_center_m", other);  // [element, 3]
    const auto ahead = read(recording, "transmit/direction", other);        // [event, 3]
    const auto c = read(recording, "medium/sound_speed_m_s", other)[0];

    constexpr hsize_t size[] = {97, 200};  // x, depth
    std::vector<double> x_m(size[0]), z_m(size[1]);
    for (std::size_t i = 0; i < x_m.size(); ++i) x_m[i] = (static_cast<double>(i) - 48.0) * 1e-4;
    for (std::size_t i = 0; i < z_m.size(); ++i) z_m[i] = static_cast<double>(i) * 1e-4 + 1e-3;
    std::vector<float> envelope;
    for (const double x : x_m) {
        for (const double z : z_m) {
            double sum[2] = {0.0, 0.0};  // the echo, and a quarter of a period later
            for (std::size_t trace = 0; trace < receivers.size(); ++trace) {
                const std::size_t event = trace / shape[1], element = static_cast<std::size_t>(receivers[trace]);
                const double out_m = x * ahead[3 * event] + z * ahead[3 * event + 2];
                const double back_m = std::hypot(x - place_m[3 * element], z);
                if (std::abs(x - place_m[3 * element]) > z / 3.0) continue;  // an aperture of F/1.5
                for (int quarter = 0; quarter < 2; ++quarter) {
                    const double at = ((out_m + back_m) / c - start_s[event] + 0.25 * quarter / center_Hz) * rate;
                    const auto below = static_cast<std::size_t>(at);
                    if (!(at >= 0.0) || below + 1 >= shape[2]) continue;
                    const double* sample = &rf[trace * shape[2] + below];
                    sum[quarter] += sample[0] + (at - std::floor(at)) * (sample[1] - sample[0]);
                }
            }
            envelope.push_back(static_cast<float>(std::hypot(sum[0], sum[1])));
        }
    }

    const hid_t image = H5Fcreate(words[2], H5F_ACC_TRUNC, H5P_DEFAULT, H5P_DEFAULT);
    for (const char* group : {"grid", "recording", "recording/receive"}) {
        H5Gclose(H5Gcreate(image, group, H5P_DEFAULT, H5P_DEFAULT, H5P_DEFAULT));
    }
    H5LTmake_dataset_float(image, "envelope", 2, size, envelope.data());
    H5LTmake_dataset_string(image, "grid/kind", "cartesian");
    H5LTmake_dataset_double(image, "grid/x_m", 1, &size[0], x_m.data());
    H5LTmake_dataset_double(image, "grid/depth_m", 1, &size[1], z_m.data());
    for (const char* name : {"probe", "transmit", "medium", "truth", "receive/element", "receive/sampling_rate_Hz",
                             "receive/start_time_s"}) {
        H5Ocopy(recording, name, image, (std::string("recording/") + name).c_str(), H5P_DEFAULT, H5P_DEFAULT);
    }
    const double samples = static_cast<double>(shape[2]);
    const hsize_t one = 1;
    H5LTmake_dataset_double(image, "recording/receive/samples", 1, &one, &samples);
    const int number = 1;
    H5LTset_attribute_string(image, "/", "format", "echoloom image");
    H5LTset_attribute_int(image, "/", "format_version", &number, 1);
    H5LTset_attribute_int(image, "/", "complete", &number, 1);
    H5Fclose(image);
    H5Fclose(recording);
}
