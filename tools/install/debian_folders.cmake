# Run by cpack on what it has gathered: Debian's zsh does not look in share/zsh/site-functions below /usr.
file(GLOB_RECURSE functions LIST_DIRECTORIES false "${CPACK_TEMPORARY_INSTALL_DIRECTORY}/*/_echoloom")
foreach(file IN LISTS functions)
  get_filename_component(folder ${file} DIRECTORY)
  string(REPLACE site-functions vendor-completions vendor ${folder})
  file(MAKE_DIRECTORY ${vendor})
  file(RENAME ${file} ${vendor}/_echoloom)
  file(REMOVE_RECURSE ${folder})
endforeach()
