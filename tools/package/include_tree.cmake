# include_tree(TARGET SCOPE PATH...): the one folder that TARGET exports for includes. It holds links to the folders and
# headers named, as seen from the top, and nothing else: what no arrow leads to is not there to be included. An installed
# tree has the same folders, with copies; NOT_INSTALLED keeps headers out of it.
#
# SCOPE is INTERFACE for a target without sources, else PUBLIC.
function(include_tree target scope)
    cmake_parse_arguments(PARSE_ARGV 2 arg "" "" "NOT_INSTALLED")
    set(tree ${PROJECT_BINARY_DIR}/include/${target})
    set(installed ${CMAKE_INSTALL_INCLUDEDIR}/needleturn/${target})
    file(REMOVE_RECURSE ${tree})
    foreach(path ${arg_UNPARSED_ARGUMENTS} ${arg_NOT_INSTALLED})
        cmake_path(GET path PARENT_PATH folder)
        file(MAKE_DIRECTORY ${tree}/${folder})
        file(CREATE_LINK ${PROJECT_SOURCE_DIR}/${path} ${tree}/${path} SYMBOLIC)
        if(path IN_LIST arg_NOT_INSTALLED)
            continue()
        elseif(IS_DIRECTORY ${PROJECT_SOURCE_DIR}/${path})
            install(DIRECTORY ${PROJECT_SOURCE_DIR}/${path}/ DESTINATION ${installed}/${path} COMPONENT library
                FILES_MATCHING PATTERN "*.h")
        else()
            install(FILES ${PROJECT_SOURCE_DIR}/${path} DESTINATION ${installed}/${folder} COMPONENT library)
        endif()
    endforeach()
    target_include_directories(${target} ${scope} $<BUILD_INTERFACE:${tree}> $<INSTALL_INTERFACE:${installed}>)
endfunction()

# exported(TARGET): others find it as needleturn::TARGET.
function(exported target)
    add_library(needleturn::${target} ALIAS ${target})
    set_target_properties(${target} PROPERTIES OUTPUT_NAME needleturn_${target})
    install(TARGETS ${target} EXPORT needleturn ARCHIVE DESTINATION ${CMAKE_INSTALL_LIBDIR} COMPONENT library)
endfunction()
