# Target `tidy`: clang-tidy over what we ship, the sources of the libraries and of the program, and the headers that they
# include. A source is looked at again when its object has been compiled again, so a second run looks only at what has changed.
find_program(CLANG_TIDY clang-tidy)
if(NOT CLANG_TIDY OR NOT CMAKE_GENERATOR MATCHES Ninja)
    return()
endif()
set(stamps "")
foreach(target numerics sim models scenarios studies commands needleturn)
    get_target_property(sources ${target} SOURCES)
    get_target_property(source_dir ${target} SOURCE_DIR)
    get_target_property(binary_dir ${target} BINARY_DIR)
    foreach(source ${sources})
        cmake_path(ABSOLUTE_PATH source BASE_DIRECTORY ${source_dir})
        cmake_path(IS_PREFIX PROJECT_SOURCE_DIR ${source} ours)
        cmake_path(IS_PREFIX PROJECT_BINARY_DIR ${source} generated)
        if(NOT ours OR generated)
            continue()
        endif()
        cmake_path(RELATIVE_PATH source BASE_DIRECTORY ${source_dir} OUTPUT_VARIABLE name)
        cmake_path(RELATIVE_PATH source BASE_DIRECTORY ${PROJECT_SOURCE_DIR} OUTPUT_VARIABLE place)
        set(stamp ${PROJECT_BINARY_DIR}/tidy/${place})
        cmake_path(GET stamp PARENT_PATH folder)
        file(MAKE_DIRECTORY ${folder})
        add_custom_command(OUTPUT ${stamp}
            COMMAND ${CLANG_TIDY} --quiet -p ${PROJECT_BINARY_DIR} ${source} 2>/dev/null
            COMMAND ${CMAKE_COMMAND} -E touch ${stamp}
            DEPENDS ${binary_dir}/CMakeFiles/${target}.dir/${name}.o ${PROJECT_SOURCE_DIR}/.clang-tidy
            COMMENT "clang-tidy ${place}")
        list(APPEND stamps ${stamp})
    endforeach()
endforeach()
add_custom_target(tidy DEPENDS ${stamps})
