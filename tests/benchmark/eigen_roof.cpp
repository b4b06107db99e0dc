// The complex float matrix product as Eigen does it on this very machine: a program of its own, so that it may be
// compiled for the instructions at hand (-march=native) and nothing that ships is.
//   echoloom_eigen_roof THREADS ROUNDS      prints GFLOP/s of all threads together, each at products of its own

#include <omp.h>

#include <Eigen/Core>
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <vector>

int main(int argc, char** argv) {
    constexpr Eigen::Index size = 1024;
    const int threads = argc > 1 ? std::atoi(argv[1]) : 1;
    const int rounds = argc > 2 ? std::atoi(argv[2]) : 5;
    Eigen::setNbThreads(1);
    std::vector<double> seconds;
    std::vector<Eigen::MatrixXcf> left;
    std::vector<Eigen::MatrixXcf> right;
    std::vector<Eigen::MatrixXcf> out;
    for (int i = 0; i < threads; ++i) {
        left.emplace_back(Eigen::MatrixXcf::Random(size, size));
        right.emplace_back(Eigen::MatrixXcf::Random(size, size));
        out.emplace_back(Eigen::MatrixXcf::Zero(size, size));
    }
    for (int round = 0; round <= rounds; ++round) {
        const auto start = std::chrono::steady_clock::now();
#pragma omp parallel num_threads(threads)
        {
            const auto i = static_cast<std::size_t>(omp_get_thread_num());
            out[i].noalias() = left[i] * right[i];
        }
        if (round > 0) {
            seconds.push_back(std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count());
        }
    }
    std::sort(seconds.begin(), seconds.end());
    const double operations = 8.0 * static_cast<double>(size * size * size) * threads;
    std::printf("%.6g\n", operations / seconds[seconds.size() / 2] * 1e-9);
    return 0;
}
