#pragma once
/// The kernels of echo_traces.cpp: spectra of pairs from the sums of a strip, and traces into rows of the record.

#include <complex>
#include <cstddef>

namespace echoloom {

/// Pairs of two rows of a strip with element_group columns from any first one. The two real echoes of a column travel
/// through one complex transform, the first row's as real part and the second's as imaginary part of its output.
struct RowPair {
    const float* real[2];  ///< sums of the first bin at the first column; null for a row that is not there
    const float* imaginary[2];
    std::size_t bin_step;                      ///< from bin to bin
    const std::complex<float>* row_factor[2];  ///< [bin]
    const float* column_real;                  ///< factors of the first bin at the first column
    const float* column_imaginary;
    std::size_t column_step;
    std::size_t begin[2];  ///< columns of each row that are wanted
    std::size_t end[2];
    std::size_t first_bin;
    std::size_t bins;
    std::size_t length;    ///< of the transform
    std::size_t distance;  ///< complex values from one column's spectrum to the next
    float* spectra;        ///< complex, both signs of frequency; bins outside the band stay as they are
};
void fill_spectra(const RowPair& pair);

/// Asks for samples that will soon be added to.
void prefetch(const float* row, std::size_t count);

/// row[i] += gain * (real or imaginary part of trace[i]).
void add_part(const float* trace, bool imaginary, float gain, std::size_t count, float* row);

}  // namespace echoloom
